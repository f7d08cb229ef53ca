"""The one place that imports imgui and glfw, in the order that makes both use the same glfw library."""

from imgui_bundle import imgui  # noqa: I001 - first: it points the glfw package at the library it is linked with
import glfw

__all__ = ["glfw", "imgui"]
