"""The documentation page of an operator, made from its declaration alone."""

from tonemap.host import Host
from tonemap.operator import TONE, Choice, Operator

from .commands.operators_show import SHOWN_LEVELS, curve, default_text, needs_text, range_and_scale


def page_text(operator: Operator, host: Host) -> str:
    """Return a page in Markdown; its picture is NAME.png beside it."""
    import numpy as np

    kind = "tone" if operator.kind == TONE else "gamut"
    lines = [f"# {operator.title}", "", f"`{operator.name}`, a {kind} operator.", ""]
    lines += [" ".join((type(operator).__doc__ or "").split()), "", f"Source: {operator.source}.", ""]
    lines += [f"![{operator.title} at several settings]({operator.name}.png)", ""]
    if operator.parameters:
        lines += ["| parameter | range | default | what it does |", "| --- | --- | --- | --- |"]
    for parameter in operator.parameters:
        values = "one of the below" if isinstance(parameter, Choice) else range_and_scale(parameter).replace("|", "or")
        name, default = f"{kind}.{parameter.name}", default_text(parameter.default)
        lines.append(f"| `{name}` | {values} | {default} | {parameter.help} |")
    for choice in (parameter for parameter in operator.parameters if isinstance(parameter, Choice)):
        lines += ["", f"`{kind}.{choice.name}`:", ""]
        lines += [f"- `{option}`: {meaning}" for option, meaning in choice.options.items()]
    if operator.needs:
        lines += ["", needs_text(operator)]
    if operator.kind == TONE:
        signal, light = curve(operator, host, np.array(SHOWN_LEVELS))
        lines += ["", "At its defaults, a master of 1000 cd/m\u00b2 on a target of 100 cd/m\u00b2:", ""]
        lines += ["| master, cd/m\u00b2 | target, cd/m\u00b2 | signal |", "| ---: | ---: | ---: |"]
        lines += [
            f"| {level:g} | {nits:.2f} | {value:.1%} |"
            for level, nits, value in zip(SHOWN_LEVELS, light, signal, strict=True)
        ]
    return "\n".join(lines) + "\n"


def index_text(host: Host) -> str:
    """Return the list of all pages in Markdown."""
    lines = ["# Operators", "", "Made from the declarations by `docs/make_operator_pages.py`.", ""]
    for kind in ("tone", "gamut"):
        lines += [f"| {kind} | source |", "| --- | --- |"]
        lines += [f"| [{item.title}]({item.name}.md) `{item.name}` | {item.source} |" for item in host.of_kind(kind)]
        lines.append("")
    return "\n".join(lines)
