"""Small parts of main: what sets `result`, with or without functions, and lists of floats of the pixel."""

FLOW = {
    "lanes part in ifs in each other": """
        int n = 0;
        if (i.x > 5) { n += 1; if (i.y > 5) n += 10; else { n += 20; if (i.z > 3) n *= 3; } } else n = 7;
        result = uvec4(n);""",
    "an else chain": """
        int n;
        if ((i.x & 3) == 0) n = 4; else if ((i.x & 3) == 1) n = i.y; else if (x.x > 0.0) n = i.z; else n = -1;
        result = uvec4(n);""",
    "main returns early": """
        result = uvec4(1);
        if (i.x > 9) return;
        result.y = 5u;
        if (x.x > 0.0) { result.zw = u.xy; return; }
        result = u;""",
    "main returns out of loops in each other": """
        result = uvec4(0);
        for (int k = 0; k < 5; k++)
            for (int j = 0; j < (i.x & 7); j++) {
                result.x += 1u;
                if (k * j > (i.y & 7)) { result.y = uint(k * 10 + j); return; }
            }
        result.w = 9u;""",
    "a loop of constant bounds": "uint n = 0u; for (int k = 0; k < 9; k++) n = n * 3u + u[k & 3]; result = uvec4(n);",
    "a loop longer than is written out": """
        uint n = 0u; for (int k = 0; k < 40; k++) n = n * 3u + u.x; result = uvec4(n);""",
    "a loop of a lane's own bounds": """
        int n = 0; for (int k = i.x & 15; k < (i.y & 31); k += 2) n += k; result = uvec4(n);""",
    "break and continue": """
        int n = 0;
        for (int k = 0; k < 30; k++) {
            if (((k ^ i.x) & 3) == 0) continue;
            if (k > (i.y & 15)) break;
            n += k;
        }
        result = uvec4(n);""",
    "while": """
        int n = i.x & 63, k = 0; while (n > 1) { n = (n & 1) == 0 ? n / 2 : n * 3 + 1; k++;
        } result = uvec4(n, k, 0, 0);""",
    "do while": "int k = 0; do { k++; if (k == (i.y & 3)) break; } while (k < (i.x & 7)); result = uvec4(k);",
    "first set in a loop with a break": """
        int found;
        for (int k = 0; ; k++) { found = k * k; if (found >= (i.x & 63)) break; }
        result = uvec4(found);""",
    "set by some lanes in each round": """
        int last = -1;
        for (int k = 0; k < (i.x & 7); k++) if (((i.y >> k) & 1) == 1) last = k;
        result = uvec4(last);""",
    "a loop in a loop, with an if": """
        int n = 0;
        for (int k = 0; k < (i.x & 3); k++) { if (i.y > 3) { for (int j = 0; j <= k; j++) n += j + k; } else n -= 1; }
        result = uvec4(n);""",
    "a switch that falls through": """
        int n = 0;
        switch (i.x & 3) { case 0: n = 1; case 1: n += 10; break; case 2: n = 100; break; default: n = 7; }
        result = uvec4(n);""",
    "a default before other cases, fallen into": """
        int n = 0;
        switch (i.x & 3) { case 2: n += 1; default: n += 10; break; case 0: n += 100; break; case 1: n += 1000; }
        result = uvec4(n);""",
    "a default that falls into a case": """
        int n = 0;
        switch (i.x & 3) { default: n += 10; case 0: n += 100; break; case 1: n += 1000; }
        result = uvec4(n);""",
    "a switch in a loop": """
        int n = 0;
        for (int k = 0; k < 6; k++) {
            switch ((i.x + k) & 3) { case 0: continue; case 1: n += 1; break; case 2: n += 10; }
            n += 100;
        }
        result = uvec4(n);""",
    "an index beyond the array, where no lane comes": """
        int t[3] = int[3](i.x, i.y, i.z), n = 0;
        for (int k = 0; k < 5; k++) if (k < (seven & 3)) n = n * 5 + t[k];
        result = uvec4(n);""",
}

CALLS = {
    "out and inout": (
        "void f(int a, out int b, inout int c) { b = a * 2; c += a; if (c > 9) return; b = -1; }",
        "int b, c = i.y & 15; f(i.x & 15, b, c); int d = c; f(3, b, d); result = uvec4(b, c, d, 0);",
    ),
    "a loop in a function, called in a branch": (
        "int f(int n) { int s = 0; for (int k = 0; k < n; k++) { if (k == 5) return s; s += k; } return -s; }",
        "int n = 0; if (x.x > 0.0) n = f(i.x & 7); else n = f(i.y & 15) + 1; result = uvec4(n);",
    ),
    "returns out of loops in each other": (
        """int f(int n, int m) {
            for (int k = 0; k < n; k++) for (int j = 0; j < m; j++) if (k * j == 6) return k * 10 + j;
            return -1; }""",
        "result = uvec4(f(i.x & 7, i.y & 7), f(9, 9), f(i.z & 15, 3), 0);",
    ),
    "a result of main set in a function in a loop": (
        "void f(int k) { result.x += uint(k); if ((k & 1) == 1) result.y = uint(k); }",
        "result = uvec4(0); for (int k = 0; k < (i.x & 31); k++) f(k);",
    ),
    "functions with effects right of && and ||": (
        "bool f(inout int n, int by) { n += by; return (n & 1) == 0; }",
        """int n = 0, m = 0;
        bool a = x.x > 0.0 && f(n, i.x & 3), b = x.y > 0.0 || f(m, i.y & 3);
        if (a && f(n, 1) || b && f(m, 5)) n += 100;
        result = uvec4(n, m, a, b);""",
    ),
    "structs": (
        """struct Part { float a; vec2 b; };
        struct Whole { Part part; int n[2]; };
        Whole f(Whole w) { w.n[1] += 2; return w; }""",
        """Whole w = Whole(Part(x.x, x.yz), int[2](i.x, i.y));
        if (x.x > 0.0) w = f(w); else w.part.b.y = 3.0;
        result = uvec4(floatBitsToUint(w.part.a), floatBitsToUint(w.part.b), w.n[0] ^ w.n[1]);""",
    ),
    "a result on every way": (
        "int f(int n) { if (n > 5) return 1; else return 2; }",
        "result = uvec4(f(i.x), f(i.y), f(i.z), f(i.w));",
    ),
}

NUMBERS = {
    "a constant array": "const int t[5] = int[5](3, 1, 4, 1, 5); result = uvec4(t[i.x & 3], t[u.y % 5u], 0, 0);",
    "arrays": """
        int t[4] = int[4](0, 1, 2, 3);
        t[i.x & 3] = i.y; if (x.x > 0.0) t[i.z & 3] += 5;
        result = uvec4(t[0], t[1], t[2], t[i.w & 3]);""",
    "components": "ivec4 v = i; v[i.x & 3] = 5; if (x.y > 0.0) v[i.y & 3] -= v[i.z & 3]; result = uvec4(v);",
    "swizzles": "ivec4 v = i; v.yx = v.zw; v.wz = v.xx; if (x.x > 0.0) v.xyz = v.zxy; result = uvec4(v);",
    "uints": "uint d = (u.y & 255u) + 1u; result = uvec4(u.x / d, u.x % d, u.x >> 3, u.x << (u.y & 31u));",
    "ints": "int d = (i.y & 255) + 1; result = uvec4(i.x / d, i.x / -d, (i.x & 4095) % d, i.x >> (i.z & 31));",
    "bits": "result = uvec4(u.x & u.y, u.x | u.y, u.x ^ u.y, ~u.x);",
    "counted bits": "result = uvec4(bitCount(u.x), bitCount(u.y), findLSB(u.y), bitfieldReverse(u.x));",
    "no lowest bit": "result = uvec4(findLSB(u.y & 0u), findLSB(i.x), 0, 0);",
    "unsigned comparisons": "result = uvec4(u.x < u.y, u.x >= 3000000000u, u.x > u.z, u.z <= u.w);",
    "signed comparisons": "result = uvec4(i.x < i.y, i.x >= -9, i.x > i.z, i.z <= i.w);",
    "extremes of uints": "result = uvec4(min(u.x, u.y), max(u.x, u.y), clamp(u.x, 5u, 3000000000u), abs(i.x));",
    "extremes of ints": "result = uvec4(min(i.x, i.y), max(i.x, i.y), clamp(i.x, -5, 9), sign(i.x));",
    "uints as floats": "result = floatBitsToUint(vec4(u.x, u.y, float(u.z | 0x80000000u), i.w));",
    "floats as uints": "result = uvec4(uint(abs(x.x) * 1e9), uint(3e9 + abs(x.y)), int(x.z * 100.0), int(-x.w));",
    "bits of floats": """
        result = uvec4(floatBitsToUint(x.x), floatBitsToInt(-x.y),
        floatBitsToUint(intBitsToFloat(i.z & 0x3fffffff | 0x20000000)), 0);""",
    "bools": """
        bvec4 b = greaterThan(x, vec4(0.0)); bvec4 c = not(b);
        result = uvec4(any(b), all(b), b.x ^^ b.y, c == b);""",
    "vectors compared": """
        result = uvec4(lessThan(x.xy, x.yz), 0, 0) + 2u * uvec4(equal(i,
        i.yxzw)) + 4u * uvec4(lessThanEqual(u, u.wzyx));""",
    "equality": "result = uvec4(x.xy == x.xy, i.xy != i.yx, mat2(x) == mat2(x), x == x.yxzw);",
    "choices": """
        result = uvec4(x.x > 0.0 ? i.x : i.y, i.y < i.z && x.y < x.z ? 3 : 4, mix(x, x.yxzw, lessThan(x,
        x.wzyx)).x > 0.0, 0);""",
    "unknown numbers": """
        float z = x.x * 0.0;
        result = uvec4(isnan(z / z), isinf(1.0 / z), isnan(x.x), isinf(exp2(abs(x.y) * 900.0)));""",
    "sizes": "result = uvec4(textureSize(codes, 0), textureSize(numbers, 0));",
    "the pixel": "result = uvec4(gl_FragCoord.xy, at);",
    "doubles": """
        double d = double(x.x) * 3.0lf + double(i.y & 7);
        result = floatBitsToUint(vec4(float(d), float(sqrt(abs(d))), float(int(d)), float(min(d, 1.0lf))));""",
    "a product that is not joined": """
        precise float p = x.x * x.y + x.z; precise float q = x.x * x.y - x.z;
        result = floatBitsToUint(vec4(p, q, 0, 0));""",
    "matrices put in order": """
        mat3 m = mat3(x.xyz, x.yzw, x.zwx); m[1] = x.xxx; m[2][0] = 5.0; m[i.x & 1].y = 4.0;
        result = floatBitsToUint(vec4(transpose(m)[1], m[0][1]));""",
    "wholes": "result = floatBitsToUint(vec4(floor(x.x), ceil(x.y), trunc(x.z), roundEven(x.w)));",
    "parts": "result = floatBitsToUint(vec4(fract(x.x), sign(x.y), step(x.z, x.w), abs(x.w)));",
    "extremes of floats": "result = floatBitsToUint(vec4(min(x.x, x.y), max(x.x, x.y), clamp(x.z, -1.0, 1.0), -x.w));",
}

MATRICES = "mat3 m = mat3(x.xyz, x.yzw, x.zwx), n = mat3(x.wzy, x.zyx, x.yxw);"
FLOATS = {
    "sums and products": "x.x * x.y + x.z, x.x / x.y, x.y - x.z * x.w, x.x * 3.0",
    "mod": "mod(x.x, 3.0), mod(x.y, -2.0), mod(abs(x.z), abs(x.w) + 1.0), mod(x, vec4(2.0)).w",
    "mix": "mix(x.x, x.y, 0.25), mix(x.xy, x.zw, 0.5), smoothstep(-1.0, 2.0, x.w)",
    "roots": "sqrt(abs(x.x)), inversesqrt(abs(x.y)), pow(abs(x.z), 2.2), pow(abs(x.w), x.x)",
    "powers": "exp(x.x), log(abs(x.y)), exp2(x.z), log2(abs(x.w) + 2.0)",
    "angles": "sin(x.x), cos(x.y), tan(x.z * 0.3), radians(x.w) + degrees(x.w)",
    "hyperbolic": "sinh(x.x), cosh(x.y), tanh(x.z), 0.0",
    "lengths": "length(x.xyz), distance(x.xy, x.zw), dot(x.xyz, x.yzw), length(x.x)",
    "directions": "normalize(x.xyz), dot(cross(x.xyz, x.yzw), vec3(1.0, 2.0, 3.0))",
    "mirrors": "reflect(x.xyz, normalize(x.yzw)), faceforward(x.xyz, x.zyx, x.yzw).x",
    "a matrix and a vector": "m * x.xyz, (x.yzw * m).y",
    "matrices": "(m * n)[1], (m * 2.0 + n)[2].x",
    "made of vectors": "outerProduct(x.xyz, x.yz)[1], matrixCompMult(m, n)[2].y",
}
