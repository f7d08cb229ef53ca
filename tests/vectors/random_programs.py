"""Writes random fragment mains with branches and loops in each other, whose results are the same to the bit everywhere.

Whole numbers wrap, and floats stay whole numbers below 2 to the 24th, so that no operation rounds.
"""

import random
from dataclasses import dataclass, field

DEEPEST = 4


@dataclass
class Writer:
    """Lines of one program; every loop counts by a name of its own, so that it ends."""

    random: random.Random
    lines: list[str] = field(default_factory=list)
    names: int = 0
    room: int = 40
    functions: list[str] = field(default_factory=list)

    def new_name(self) -> str:
        """Return a name that is not yet taken."""
        self.names += 1
        return f"k{self.names}"

    def pick(self, *texts: str) -> str:
        """Return one of several."""
        return self.random.choice(texts)

    def number(self, deep: int = 2, names: tuple[str, ...] = ()) -> str:
        """Return an int expression."""
        leaf = self.pick("a", "b", "c", "d", "t[b & 3]", "v[c & 3]", "int(p)", "v.y", "v.w", "t[2]", *names)
        if deep == 0 or self.random.random() < 0.3:
            return self.pick(leaf, leaf, str(self.random.randint(-4, 9)))
        one, other = self.number(deep - 1, names), self.number(deep - 1, names)
        return self.pick(
            f"({one} + {other})",
            f"({one} - {other})",
            f"({one} * {other})",
            f"({one} ^ {other})",
            f"({one} & {other})",
            f"({one} | ~{other})",
            f"({one} >> ({other} & 7))",
            f"({one} << ({other} & 7))",
            f"({one} / (({other} & 7) + 1))",
            f"(({one} & 1023) % (({other} & 7) + 1))",
            f"int(uint({one}) / (uint({other}) | 1u))",
            f"({self.condition(deep - 1)} ? {one} : {other})",
            f"min({one}, {other})",
            f"max({one}, {other})",
            f"clamp({one}, -3, 5)",
            f"abs({one})",
            f"int({self.condition(deep - 1)})",
        )

    def float_number(self, deep: int = 1) -> str:
        """Return a float expression, a whole number that no operation rounds."""
        leaf = self.pick("p", "q", "float(a & 63)", "float(d & 15)", "1.0", "3.0")
        if deep == 0 or self.random.random() < 0.3:
            return leaf
        one, other = self.float_number(deep - 1), self.float_number(deep - 1)
        return self.pick(
            f"({one} + {other})",
            f"({one} * {other})",
            f"abs({one} - {other})",
            f"min({one}, {other})",
            f"max({one}, {other})",
        )

    def condition(self, deep: int = 1) -> str:
        """Return a bool expression."""
        one, other = self.number(max(deep - 1, 0)), self.number(max(deep - 1, 0))
        compare = self.pick("<", "<=", ">", ">=", "==", "!=")
        simple = self.pick(
            f"({one} {compare} {other})",
            f"(({one} & 3) {compare} {self.random.randint(0, 3)})",
            f"(uint({one}) {compare} uint({other}))",
            f"({self.float_number()} {compare} {self.float_number()})",
            "((a & 1) == 0)",
            "((u.z & 2u) != 0u)",
            "(seven == 7)",
            "(seven < 3)",
        )
        if deep == 0:
            return simple
        other = self.condition(deep - 1)
        return self.pick(
            simple, simple, f"({simple} && {other})", f"({simple} || {other})", f"!{simple}", f"({simple} != {other})"
        )

    def assignment(self, can_call: bool) -> str:
        """Return a statement that sets a variable, or part of one."""
        texts = [
            f"{self.pick('a', 'b', 'c', 'd')} {self.pick('=', '+=', '^=', '-=')} {self.number()};",
            f"{self.pick('a', 'b', 'c', 'd')} = {self.number()};",
            f"t[{self.pick('a & 3', 'd & 3', '1', '3')}] = {self.number(1)};",
            f"v[{self.pick('b & 3', 'c & 3', '0')}] {self.pick('=', '+=')} {self.number(1)};",
            f"v.{self.pick('xy', 'wz', 'yx')} = v.{self.pick('zw', 'xx', 'yz')};",
            f"{self.pick('p', 'q')} = mod({self.float_number(2)}, 64.0);",
            f"{self.pick('a', 'b')}{self.pick('++', '--')};",
        ]
        if can_call:
            texts += [self.call()] * 2
        return self.random.choice(texts)

    def call(self) -> str:
        """Return a call of a function with an effect."""
        name = self.pick("f0", "f1", "f2")
        target = self.pick("a", "b", "c", "d")
        inout = self.pick(*(name for name in "abcd" if name != target))
        return f"{target} = {name}({self.number(1)}, {inout});"

    def block(self, indent: int, deep: int, is_in_loop: bool, can_call: bool, leave: str) -> None:
        """Say some statements; `leave` is what returns."""
        for _ in range(self.random.randint(1, 3)):
            self.statement(indent, deep, is_in_loop, can_call, leave)

    def say(self, indent: int, text: str) -> None:
        """Add a line."""
        self.lines.append("    " * indent + text)

    def statement(self, indent: int, deep: int, is_in_loop: bool, can_call: bool, leave: str) -> None:
        """Say one."""
        self.room -= 1
        kind = self.random.random()
        inner = indent + 1, deep - 1
        if deep == 0 or self.room < 0 or kind < 0.3:
            self.say(indent, self.assignment(can_call))
        elif kind < 0.55:
            self.branch(indent, deep, is_in_loop, can_call, leave)
        elif kind < 0.8:
            self.loop(indent, deep, can_call, leave)
        elif kind < 0.87:
            self.switch(indent, deep, is_in_loop, can_call, leave)
        elif kind < 0.9 and can_call:
            call = f"{self.pick('f0', 'f1', 'f2')}({self.number(1)}, a)"
            self.say(indent, f"if ({self.condition()} {self.pick('&&', '||')} {call} > 2)")
            self.say(indent, "{")
            self.block(*inner, is_in_loop, can_call, leave)
            self.say(indent, "}")
        elif kind < 0.94:
            self.say(indent, f"if ({self.condition()})")
            self.say(indent, "{")
            self.say(indent + 1, self.assignment(False))
            self.say(indent + 1, leave)
            self.say(indent, "}")
        elif is_in_loop:
            self.say(indent, f"if ({self.condition()})")
            self.say(indent + 1, self.pick("break;", "continue;"))
        else:
            name = self.new_name()
            self.say(indent, f"int {name};")
            self.say(indent, f"if ({self.condition()}) {name} = {self.number()};")
            self.say(indent, f"else {name} = {self.number()};")
            self.say(indent, f"{self.pick('a', 'b', 'c', 'd')} += {name};")

    def branch(self, indent: int, deep: int, is_in_loop: bool, can_call: bool, leave: str) -> None:
        """Say an if with what follows from it."""
        self.say(indent, f"if ({self.condition()})")
        for _ in range(self.random.randint(0, 2)):
            self.say(indent, "{")
            self.block(indent + 1, deep - 1, is_in_loop, can_call, leave)
            self.say(indent, "}")
            self.say(indent, f"else if ({self.condition()})")
        self.say(indent, "{")
        self.block(indent + 1, deep - 1, is_in_loop, can_call, leave)
        self.say(indent, "}")
        if self.random.random() < 0.5:
            self.say(indent, "else")
            self.say(indent, "{")
            self.block(indent + 1, deep - 1, is_in_loop, can_call, leave)
            self.say(indent, "}")

    def loop(self, indent: int, deep: int, can_call: bool, leave: str) -> None:
        """Say a loop of some kind."""
        count = self.new_name()
        end = self.pick(
            "3", "2", "(a & 3)", "(b & 7)", "(seven & 3)", f"({self.number(1)} & 3)", "20" if deep == 1 else "4"
        )
        kind = self.pick("for", "for", "while", "do", "endless")
        if kind == "for":
            self.say(indent, f"for (int {count} = 0; {count} < {end}; {count}++)")
            self.say(indent, "{")
        elif kind == "while":
            self.say(indent, f"int {count} = 0;")
            self.say(indent, f"while ({count} < {end})")
            self.say(indent, "{")
            self.say(indent + 1, f"{count}++;")
        elif kind == "do":
            self.say(indent, f"int {count} = 0;")
            self.say(indent, "do")
            self.say(indent, "{")
            self.say(indent + 1, f"{count}++;")
        else:
            self.say(indent, f"for (int {count} = 0; ; {count}++)")
            self.say(indent, "{")
            self.say(indent + 1, f"if ({count} >= {end}) break;")
        if self.random.random() < 0.3:
            name = self.new_name()
            self.say(indent + 1, f"int {name} = {self.number(1)} + {count};")
            self.say(indent + 1, f"{self.pick('a', 'b', 'c', 'd')} ^= {name};")
        else:
            self.say(indent + 1, f"{self.pick('a', 'b', 'c', 'd')} += {count};")
        self.block(indent + 1, deep - 1, True, can_call, leave)
        self.say(indent, f"}} while ({count} < {end});" if kind == "do" else "}")

    def switch(self, indent: int, deep: int, is_in_loop: bool, can_call: bool, leave: str) -> None:
        """Say a switch whose cases lie in any order."""
        self.say(indent, f"switch ({self.number(1)} & 3)")
        self.say(indent, "{")
        labels = ["case 0:", "case 1:", "case 2:", "default:"]
        self.random.shuffle(labels)
        for label in labels[: self.random.randint(1, 4)]:
            self.say(indent, label)
            self.block(indent + 1, deep - 1, False, can_call, leave)
            end = self.pick("break;", "break;", "", "continue;" if is_in_loop else "")
            self.say(indent + 1, f"{end} " if end else f"{self.pick('a', 'b')} ^= 1;")
        self.say(indent + 1, "c += 3;")
        self.say(indent, "}")


VARIABLES = """    int t[4] = int[4](a, 5, b, -2);
    ivec4 v = ivec4(b, c, a, 1);
    float p = float(a & 31), q = float(c & 7);"""
END = "result = uvec4(a ^ t[0], b + v.x * 3 + t[1], c + v.y + int(p), d + v.z - v.w + int(q) * 5 + t[2] - t[3]);"


def program(seed: int) -> tuple[str, str]:
    """Return the functions and the body of main, always the same for a seed."""
    writer = Writer(random.Random(seed))
    functions = []
    for place in range(3):
        writer.lines, writer.room = [], 10
        writer.block(1, 3, False, False, f"return {writer.pick('a', 'b', 'c - d')};")
        lines = "\n".join(writer.lines)
        functions.append(
            f"int f{place}(int a, inout int b)\n{{\n    int c = a - 3, d = b & 5;\n"
            f"    uvec4 u = uvec4(a, b, a ^ b, 1);\n{VARIABLES}\n{lines}\n"
            f"    b += t[1] - v.z + int(p);\n    return c ^ d;\n}}"
        )
    writer.lines, writer.room = [], 40
    for _ in range(3):
        writer.block(1, DEEPEST, False, True, f"{END} return;")
    body = "\n".join(["    int a = i.x, b = i.y, c = i.z & 255, d = at.x;", VARIABLES, *writer.lines, f"    {END}"])
    return "\n".join(functions), body
