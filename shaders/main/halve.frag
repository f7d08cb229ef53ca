// One level of the light pyramid from the level below: the mean of the picture under two by two of its texels.
// Where the picture's size is not a multiple, the last texels cover less of it and weigh less.
uniform sampler2D light;
uniform float texel;        // picture pixels a side of a texel of the level below
uniform vec2 picture_size;

out vec4 result;

void main()
{
    ivec2 first = 2 * ivec2(gl_FragCoord.xy);
    vec3 sum = vec3(0.0);
    float weight = 0.0;
    for (int i = 0; i < 4; ++i) {
        ivec2 index = first + ivec2(i & 1, i >> 1);
        vec2 covered = clamp(picture_size - vec2(index) * texel, 0.0, texel);
        float area = covered.x * covered.y;
        if (area > 0.0) sum += area * texelFetch(light, index, 0).rgb;
        weight += area;
    }
    result = vec4(sum / weight, 1.0);
}
