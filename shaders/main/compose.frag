// The interface over the pictures, mixed in the light of the monitor, as its signal.
// Where there is no interface, the pictures' codes go out untouched.
#include "lib/monitor.glsl"

uniform sampler2D pictures;   // the monitor's signal
uniform sampler2D interface_layer;  // its own signal, multiplied by alpha
uniform Encoding interface_encoding;
uniform Monitor monitor;
uniform float gain;      // on the interface's light
uniform float top_code;  // of the framebuffer: 255 or 1023

out vec4 result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    vec3 signal = texelFetch(pictures, pixel, 0).rgb;
    vec4 over = texelFetch(interface_layer, pixel, 0);
    if (over.a > 0.0) {
        vec3 light = bt1886_eotf(min(over.rgb / over.a, 1.0), interface_encoding.display);
        light = clamp(gain * convert(light, interface_encoding.to_bt2020), 0.0, LIGHT_CEILING);
        light = clamp(convert(light, monitor.from_bt2020), 0.0, monitor.peak);
        if (over.a < 1.0) light = mix(signal_to_light(signal, MONITOR_TRANSFER, monitor.display), light, over.a);
        signal = encode(light, MONITOR_TRANSFER, monitor.display);
    }
    result = vec4(floor(signal * top_code + 0.5) / top_code, 1.0);
}
