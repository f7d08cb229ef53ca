// Pair of tonemap/monitor.py.
// BT.2020 light in cd/m2 in, the monitor's signal out: beyond its primaries and its peak, clipped.
// MONITOR_TRANSFER is known when the program is made, so only one branch stays.
#include "generated/constants.glsl"
#include "lib/encoding.glsl"

struct Monitor {
    mat3 from_bt2020;
    float peak;
    Display display;
};

vec3 monitor_signal(vec3 light, Monitor monitor)
{
    vec3 own = clamp(convert(light, monitor.from_bt2020), 0.0, monitor.peak);
    return encode(own, MONITOR_TRANSFER, monitor.display);
}
