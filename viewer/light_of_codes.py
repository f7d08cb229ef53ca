"""The light of every code of a master, where a program looks it up."""

from tonemap.encoding import Encoding, has_light_of_codes, light_of_codes

from .gl.uniform_block import UniformBlock


class LightOfCodes:
    """The light of every code of a master on the card, as the reference engine has it."""

    def __init__(self) -> None:
        self._block = UniformBlock()
        self._encoding: Encoding | None = None

    def bind(self, encoding: Encoding) -> int:
        """Bind it and return the number of codes, or 0 where light is to be computed: no codes, or too many for it."""
        codes = 2 ** (encoding.bits or 0)
        if not has_light_of_codes(encoding) or codes > self._block.most_values:
            return 0
        if encoding != self._encoding:
            self._block.fill(light_of_codes(encoding)[:codes])
            self._encoding = encoding
        self._block.bind()
        return codes

    def delete(self) -> None:
        """Free it."""
        self._block.delete()
