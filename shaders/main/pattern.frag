// The code values of a pattern onto the window, pixel by pixel; row 0 of the texture is the upper one.
uniform usampler2D codes;
uniform int rows;
uniform float top_code;  // of the framebuffer: 255 or 1023

out vec4 result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    result = vec4(vec3(texelFetch(codes, ivec2(pixel.x, rows - 1 - pixel.y), 0).rgb) / top_code, 1.0);
}
