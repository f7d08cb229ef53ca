"""Words that GLSL has or keeps for itself, of those that are written in lower-case letters.

The OpenGL Shading Language 4.60, 3.6 (keywords) and 8 (built-in functions); from memory, and tried by a compiler.
"""

_KEYWORDS = """
    const uniform buffer shared attribute varying coherent volatile restrict readonly writeonly layout centroid flat
    smooth noperspective patch sample invariant precise break continue do for while switch case default if else
    subroutine in out inout int void bool true false float double discard return vec2 vec3 vec4 ivec2 ivec3 ivec4 bvec2
    bvec3 bvec4 uint uvec2 uvec3 uvec4 dvec2 dvec3 dvec4 mat2 mat3 mat4 mat2x2 mat2x3 mat2x4 mat3x2 mat3x3 mat3x4 mat4x2
    mat4x3 mat4x4 dmat2 dmat3 dmat4 dmat2x2 dmat2x3 dmat2x4 dmat3x2 dmat3x3 dmat3x4 dmat4x2 dmat4x3 dmat4x4 lowp mediump
    highp precision struct
"""
_RESERVED = """
    common partition active asm class union enum typedef template this resource goto inline noinline public static
    extern external interface long short half fixed unsigned superp input output hvec2 hvec3 hvec4 fvec2 fvec3 fvec4
    filter sizeof cast namespace using
"""
_FUNCTIONS = """
    radians degrees sin cos tan asin acos atan sinh cosh tanh asinh acosh atanh pow exp log exp2 log2 sqrt inversesqrt
    abs sign floor trunc round ceil fract mod modf min max clamp mix step smoothstep isnan isinf fma frexp ldexp length
    distance dot cross normalize faceforward reflect refract transpose determinant inverse any all not texture
"""
KEYWORDS, RESERVED, FUNCTIONS = (frozenset(words.split()) for words in (_KEYWORDS, _RESERVED, _FUNCTIONS))
