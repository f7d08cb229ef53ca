"""The shaders on the processor's own vectors, for machines without a card: GLSL to SPIR-V to LLVM."""
