"""What is not translated, in the words of GLSL, by its numbers in SPIR-V."""

from .spirv import Instruction

EXTENDED_INSTRUCTION = 12

INSTRUCTIONS = {
    **dict.fromkeys(range(87, 95), "texture() and what else filters"),
    97: "a shadow sampler",
    98: "imageLoad",
    99: "imageStore",
    **dict.fromkeys((105, 106, 107), "a question about a sampler"),
    **dict.fromkeys((149, 150, 151, 152), "a sum or product of more than 32 bits"),
    **dict.fromkeys((201, 202, 203), "a bit field"),
    **dict.fromkeys(range(207, 216), "a derivative"),
    **dict.fromkeys((224, 225), "a barrier"),
    **dict.fromkeys(range(227, 243), "an atomic function"),
    **dict.fromkeys((252, 4416, 5380), "discard"),
}
EXTENDED = {
    **dict.fromkeys((33, 34), "the determinant or inverse of a matrix"),
    **dict.fromkeys((35, 36), "modf"),
    **dict.fromkeys((51, 52, 53), "frexp or ldexp"),
    **dict.fromkeys(range(54, 66), "numbers packed into one"),
    **dict.fromkeys((76, 77, 78), "interpolateAt"),
}


def refusal(item: Instruction) -> str:
    """Return what an instruction is, for a sentence that says it can't be translated."""
    if item.op == EXTENDED_INSTRUCTION:
        return EXTENDED.get(item.operands[1], f"GLSL's function {item.operands[1]} in SPIR-V")
    return INSTRUCTIONS.get(item.op, f"instruction {item.op} of SPIR-V")
