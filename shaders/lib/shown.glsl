// No pair: what a picture on a tile is, either a signal with the display that shows it, or light as it is (the master).
// A pixel of it in, BT.2020 light in cd/m2 out.
#include "lib/encoding.glsl"

struct Shown {
    bool is_light;
    int transfer;
    Encoding encoding;
};

vec3 light_of(vec3 pixel, Shown shown)
{
    if (shown.is_light) return pixel;
    return convert(signal_to_light(pixel, shown.transfer, shown.encoding.display), shown.encoding.to_bt2020);
}
