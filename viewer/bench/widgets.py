"""The widgets that the panels are made of, over imgui, in one look; every one tells its place under a name.

The names and places are kept when `places` is a dict: tests use them to put events where a hand would.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from tonemap.operator import Parameter

from . import theme
from .layout import Rect
from .scales import share_of, value_at
from .toolkit import imgui

UNCHOSEN = "choose"
"""What a list says as long as nothing is chosen."""

RESET = object()
"""What a row returns when the default is wanted back."""

CLICK_SLACK = 3.0
"""Pixels that a hand may move between press and release for a click."""

FINE = 0.1
"""How much slower a track moves while Shift is held."""

CHEVRON = 1.6
"""Width of what is kept free for the chevron of a list, in units of the type."""

WINDOW_FLAGS = (
    imgui.WindowFlags_.no_title_bar
    | imgui.WindowFlags_.no_resize
    | imgui.WindowFlags_.no_move
    | imgui.WindowFlags_.no_collapse
    | imgui.WindowFlags_.no_saved_settings
    | imgui.WindowFlags_.no_bring_to_front_on_focus
    | imgui.WindowFlags_.no_nav
)


class Widgets:
    """Draws widgets; holds only what is being typed or dragged."""

    def __init__(self, fonts: theme.Fonts, places: dict[str, Rect] | None = None) -> None:
        self.fonts = fonts
        self.places = places
        self.em = theme.TYPE_SIZE
        self._typed: dict[str, str] = {}
        self._wanted_focus: str | None = None
        self._list_was_open = 0  # the frame in which one was last
        self._grip = ""  # the track that a hand moves, and where it holds it
        self._held: float = 0.0

    def place(self, name: str) -> None:
        """Note where the last item is."""
        if self.places is not None:
            low, high = imgui.get_item_rect_min(), imgui.get_item_rect_max()
            self.places[name] = Rect(round(low.x), round(low.y), round(high.x - low.x), round(high.y - low.y))

    @contextmanager
    def window(
        self, name: str, rect: Rect, flags: int = 0, padding: tuple[float, float] | None = None
    ) -> Iterator[None]:
        """Draw in a window that fills a rectangle."""
        imgui.set_next_window_pos((rect.left, rect.top))
        imgui.set_next_window_size((rect.width, rect.height))
        if padding is not None:
            imgui.push_style_var(imgui.StyleVar_.window_padding, padding)
        imgui.begin(name, None, WINDOW_FLAGS | flags)
        if padding is not None:
            imgui.pop_style_var()
        try:
            yield
        finally:
            imgui.end()

    @contextmanager
    def weight(self, is_bold: bool) -> Iterator[None]:
        """Set in the bolder weight."""
        imgui.push_font(self.fonts.semibold if is_bold else self.fonts.regular, 0.0)
        try:
            yield
        finally:
            imgui.pop_font()

    def width_of(self, text: str, is_bold: bool = False) -> float:
        """Return how wide a text is."""
        with self.weight(is_bold):
            return imgui.calc_text_size(text).x

    def fitting(self, texts: Sequence[str], width: float, is_bold: bool = False) -> str:
        """Return the first of some wordings that fits, or the last one cut short."""
        for text in texts:
            if self.width_of(text, is_bold) <= width:
                return text
        text = texts[-1]
        while text and self.width_of(text + "…", is_bold) > width:
            text = text[:-1]
        return text.rstrip() + "…" if text else ""

    def write(self, x: float, y: float, text: str, colour: theme.Colour, is_bold: bool = False) -> float:
        """Write at a place in the window; returns where the text ends."""
        with self.weight(is_bold):
            imgui.get_window_draw_list().add_text((round(x), round(y)), packed(colour), text)
            return x + imgui.calc_text_size(text).x

    def text(self, text: str, colour: theme.Colour | None = None, is_bold: bool = False, wraps: bool = False) -> None:
        """Write in the flow of the window."""
        imgui.push_style_color(imgui.Col_.text, imgui.ImVec4(*(colour or theme.grey(theme.TEXT))))
        with self.weight(is_bold):
            if wraps:
                imgui.push_text_wrap_pos(0.0)
            imgui.text_unformatted(text)
            if wraps:
                imgui.pop_text_wrap_pos()
        imgui.pop_style_color()

    def help(self, text: str) -> None:
        """Show a text when the pointer rests on the last item."""
        if text and imgui.is_item_hovered(imgui.HoveredFlags_.for_tooltip) and imgui.begin_tooltip():
            imgui.push_text_wrap_pos(24.0 * self.em)
            imgui.text_unformatted(text)
            imgui.pop_text_wrap_pos()
            imgui.end_tooltip()

    def button(self, name: str, text: str, help_text: str = "", is_on: bool = False, width: float = 0.0) -> bool:
        """Draw a button; one that is on is marked by a line in the accent."""
        is_pressed = imgui.button(f"{text}##{name}", (width, 0.0))
        self.place(name)
        if is_on:
            low, high = imgui.get_item_rect_min(), imgui.get_item_rect_max()
            thickness = max(round(0.12 * self.em), 1)
            imgui.get_window_draw_list().add_rect_filled(
                (low.x, high.y - thickness), (high.x, high.y), packed(theme.accent())
            )
        self.help(help_text)
        return bool(is_pressed)

    def section(self, title: str) -> None:
        """Begin a section of the panel."""
        imgui.dummy((0.0, 0.25 * self.em))
        self.text(title, theme.grey(theme.TEXT), is_bold=True)
        low, high = imgui.get_item_rect_min(), imgui.get_item_rect_max()
        middle = round(0.5 * (low.y + high.y)) + 1
        right = imgui.get_window_pos().x + imgui.get_cursor_pos_x() + imgui.get_content_region_avail().x
        imgui.get_window_draw_list().add_line(
            (high.x + 0.6 * self.em, middle), (right, middle), packed(theme.grey(0.24)), 1.0
        )

    def typed(self, name: str, shown: str, width: float) -> str | None:
        """Draw a field to type in; returns the text when it is finished and differs from what was shown."""
        if self._wanted_focus == name:
            imgui.set_keyboard_focus_here()
            self._wanted_focus = None
        imgui.set_next_item_width(width)
        flags = imgui.InputTextFlags_.auto_select_all
        is_changed, text = imgui.input_text(f"##{name}", self._typed.get(name, shown), flags)
        self.place(name)
        if is_changed:
            self._typed[name] = text
        if not imgui.is_item_deactivated():
            return None
        finished = self._typed.pop(name, shown)
        return finished if finished != shown and not imgui.is_key_pressed(imgui.Key.escape) else None

    def focus(self, name: str) -> None:
        """Put the keyboard into a field when it is drawn next."""
        self._wanted_focus = name

    def label(
        self, name: str, text: str, help_text: str, width: float, indent: float = 0.0, is_dim: bool = False
    ) -> bool:
        """Draw a row's label; returns whether it was clicked twice."""
        corner = imgui.get_cursor_screen_pos()
        imgui.invisible_button(f"label {name}", (width, imgui.get_frame_height()))
        self.place(f"label {name}")
        is_doubled = imgui.is_item_hovered() and imgui.is_mouse_double_clicked(0)
        y = corner.y + imgui.get_style().frame_padding.y
        colour = theme.grey(theme.TEXT_DIM if is_dim else theme.TEXT)
        self.write(corner.x + indent, y, self.fitting([text], width - indent), colour)
        self.help(help_text)
        return bool(is_doubled)

    def track(self, name: str, parameter: Parameter, value: float, width: float) -> Any:
        """Draw a track to drag along; returns the new value, RESET after a double click, or None."""
        corner = imgui.get_cursor_screen_pos()
        height = imgui.get_frame_height()
        imgui.invisible_button(f"track {name}", (max(width, 1.0), height))
        self.place(f"track {name}")
        result: Any = None
        radius = 0.34 * self.em
        left, room = corner.x + radius, max(width - 2.0 * radius, 1.0)
        io = imgui.get_io()
        if imgui.is_item_activated():
            self._grip, self._held = "", share_of(parameter, value)
            if io.key_ctrl:
                self.focus(f"field {name}")
            elif imgui.is_mouse_double_clicked(0):
                result = RESET
            else:
                self._grip = name
        is_held = self._grip == name and (imgui.is_item_active() or imgui.is_item_deactivated())
        if is_held and io.key_shift:
            self._held = min(max(self._held + FINE * dragged()[0] / room, 0.0), 1.0)
        elif is_held:
            self._held = min(max((io.mouse_pos.x - left) / room, 0.0), 1.0)
        if is_held and (not io.key_shift or dragged()[0]):
            new = value_at(parameter, self._held)
            result = new if new != value else None
            value = new
        share = self._held if is_held else share_of(parameter, value)
        is_lit = imgui.is_item_hovered() or imgui.is_item_active()
        self._draw_track(left, corner.y + 0.5 * height, room, share, share_of(parameter, parameter.default), is_lit)
        return result

    def _draw_track(self, left: float, middle: float, room: float, share: float, default: float, is_lit: bool) -> None:
        draw = imgui.get_window_draw_list()
        middle = round(middle) + 0.5
        thickness = max(round(0.14 * self.em), 1)
        draw.add_line((left, middle), (left + room, middle), packed(theme.grey(0.30)), thickness)
        draw.add_line(
            (left + default * room, middle), (left + share * room, middle), packed(theme.grey(0.58)), thickness
        )
        tick = round(left + default * room) + 0.5
        draw.add_line((tick, middle - 0.3 * self.em), (tick, middle + 0.3 * self.em), packed(theme.grey(0.40)), 1.0)
        half_width, half_height = round(0.17 * self.em), round(0.42 * self.em)
        x = left + share * room
        draw.add_rect_filled(
            (x - half_width, middle - half_height),
            (x + half_width, middle + half_height),
            packed(theme.grey(0.90 if is_lit else 0.72)),
            0.08 * self.em,
        )

    def reset_mark(self, name: str, help_text: str, *, is_square: bool = False) -> bool:
        """Draw the small mark of a changed setting; returns whether it was clicked."""
        corner = imgui.get_cursor_screen_pos()
        side = imgui.get_frame_height()
        is_clicked = imgui.invisible_button(f"reset {name}", (0.7 * side, side))
        self.place(f"reset {name}")
        centre = (corner.x + 0.35 * side, corner.y + 0.5 * side)
        strength = 1.0 if imgui.is_item_hovered() else 0.8
        draw, colour = imgui.get_window_draw_list(), packed(theme.accent(strength))
        if is_square:
            half = round(0.25 * self.em)
            x, y = round(centre[0]), round(centre[1])
            draw.add_rect_filled((x - half, y - half), (x + half, y + half), colour)
        else:
            draw.add_circle_filled(centre, 0.22 * self.em, colour)
        self.help(help_text)
        return bool(is_clicked)

    def post(self, name: str, help_text: str, level: int) -> bool:
        """Draw the post of a key, at level 0 of none, at 1 of one elsewhere, at 2 of one here; returns a click."""
        corner = imgui.get_cursor_screen_pos()
        side = imgui.get_frame_height()
        is_clicked = imgui.invisible_button(f"key {name}", (0.55 * side, side))
        self.place(f"key {name}")
        colours = theme.grey(theme.TEXT_DIM), theme.grey(theme.TEXT), theme.accent()
        colour = theme.grey(theme.TEXT) if imgui.is_item_hovered() and level == 0 else colours[level]
        half = max(round((0.13 if level == 2 else 0.06) * self.em), 1)
        x, middle = round(corner.x + 0.27 * side), corner.y + 0.5 * side
        reach = round((0.45 if level else 0.2) * self.em)
        imgui.get_window_draw_list().add_rect_filled(
            (x - half, middle - reach), (x + half, middle + reach), packed(colour)
        )
        self.help(help_text)
        return bool(is_clicked)

    def light(self, centre: tuple[float, float], *, is_on: bool) -> None:
        """Draw the light of a picture among two in one place: lit while it is the one that is seen."""
        draw, radius = imgui.get_window_draw_list(), 0.26 * self.em
        if is_on:
            draw.add_circle_filled(centre, radius, packed(theme.accent()))
        else:
            draw.add_circle(centre, radius, packed(theme.grey(theme.TEXT_DIM)), 0, max(0.08 * self.em, 1.0))

    @contextmanager
    def popup(self, title: str, width: float, height: float = 0.0) -> Iterator[bool]:
        """Draw a sheet over the bench, in the middle; yields whether it is to be filled."""
        centre = imgui.get_main_viewport().get_center()
        size = imgui.get_main_viewport().size
        imgui.set_next_window_pos(centre, imgui.Cond_.always, (0.5, 0.5))
        imgui.set_next_window_size((min(width, size.x), min(height, size.y)))
        imgui.set_next_window_size_constraints((0.0, 0.0), (size.x, size.y))
        flags = imgui.WindowFlags_.no_resize | imgui.WindowFlags_.no_move | imgui.WindowFlags_.no_saved_settings
        if not imgui.is_popup_open(title):
            imgui.open_popup(title)
        imgui.push_style_var(imgui.StyleVar_.window_border_size, 1.0)
        is_open, _ = imgui.begin_popup_modal(title, None, flags | imgui.WindowFlags_.no_title_bar)
        imgui.pop_style_var()
        try:
            if is_open:
                self.text(title, is_bold=True)
                imgui.dummy((0.0, 0.2 * self.em))
            yield is_open
        finally:
            if is_open:
                imgui.end_popup()

    def is_left(self) -> bool:
        """Say whether Esc leaves a sheet; while a list on it is open, Esc closes that."""
        return imgui.is_key_pressed(imgui.Key.escape) and self._list_was_open < imgui.get_frame_count()

    def combo(self, name: str, options: Mapping[str, tuple[str, str]], current: str, width: float) -> str | None:
        """Draw a list to choose from, and return the key that was chosen.

        Parameters
        ----------
        options : key -> (title, help)
        current : the key that is chosen now; one that is no option as long as nothing is
        """
        chosen = None
        imgui.set_next_item_width(width)
        flags = imgui.ComboFlags_.no_arrow_button | imgui.ComboFlags_.height_large
        room = width - imgui.get_style().frame_padding.x - CHEVRON * self.em
        shown = options.get(current, (UNCHOSEN, ""))[0]
        is_open = imgui.begin_combo(f"##{name}", self.fitting([shown], room), flags)
        if is_open:
            self._list_was_open = imgui.get_frame_count()
            if imgui.is_key_pressed(imgui.Key.escape):
                imgui.close_current_popup()
            column = max(self.width_of(title) for title, _ in options.values()) + 1.2 * self.em
            longest = max(self.width_of(help_text) for _, help_text in options.values())
            room = max(column + min(longest, 26.0 * self.em), width - 0.8 * self.em)
            for key, (title, help_text) in options.items():
                corner = imgui.get_cursor_screen_pos()
                if imgui.selectable(f"##{key}", key == current, 0, (room, 0.0))[0] and key != current:
                    chosen = key
                self.place(f"{name}={key}")
                self.write(corner.x, corner.y, title, theme.accent() if key == current else theme.grey(theme.TEXT))
                words = self.fitting([help_text], room - column) if help_text else ""
                self.write(corner.x + column, corner.y, words, theme.grey(0.72))
            imgui.end_combo()
        self.place(name)
        self._draw_chevron()
        return chosen

    def _draw_chevron(self) -> None:
        low, high = imgui.get_item_rect_min(), imgui.get_item_rect_max()
        x, y, size = high.x - 0.5 * CHEVRON * self.em, 0.5 * (low.y + high.y), 0.22 * self.em
        points = [
            imgui.ImVec2(x - size, y - 0.5 * size),
            imgui.ImVec2(x, y + 0.5 * size),
            imgui.ImVec2(x + size, y - 0.5 * size),
        ]
        imgui.get_window_draw_list().add_polyline(points, packed(theme.grey(0.62)), max(0.09 * self.em, 1.0), 0)


def dragged() -> tuple[float, float]:
    """Return by how much the hand moved the last item since the frame before.

    On a slow card a hand may have moved and let go between two frames; what it moved before it pressed does not count.
    """
    is_held = (imgui.is_item_active() or imgui.is_item_deactivated()) and not imgui.is_item_activated()
    moved = imgui.get_io().mouse_delta
    return (moved.x, moved.y) if is_held else (0.0, 0.0)


def gone() -> tuple[float, float]:
    """Return how far the hand is from where it pressed; (0, 0) as long as that is a click."""
    way, while_held = imgui.get_mouse_drag_delta(0, 0.0), imgui.get_mouse_drag_delta(0, CLICK_SLACK)
    is_click = (while_held.x, while_held.y) == (0.0, 0.0) and math.hypot(way.x, way.y) < CLICK_SLACK
    return (0.0, 0.0) if is_click else (way.x, way.y)


def packed(colour: theme.Colour) -> int:
    """Return a colour as imgui's draw lists take it."""
    return int(imgui.color_convert_float4_to_u32(imgui.ImVec4(*colour)))
