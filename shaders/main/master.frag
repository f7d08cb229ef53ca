// The master on its tile, as the monitor's signal, clipped beyond its peak and its primaries. On a monitor in PQ light is
// shown as it is; on an SDR one up to the window's nits, relative to them (as it is where they are the monitor's white).
#include "lib/grid.glsl"
#include "lib/monitor.glsl"

uniform sampler2D view_light;
uniform float gain;    // on light
uniform Monitor monitor;

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    vec4 light = texelFetch(view_light, texel_of(ivec2(gl_FragCoord.xy)), 0);
    result = vec4(monitor_signal(gain * light.rgb, monitor), light.a);
}
