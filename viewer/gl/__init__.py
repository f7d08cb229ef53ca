"""Everything that talks to OpenGL. Imported before anything that imports OpenGL, because the platform is set here."""

import os
import sys

if sys.platform.startswith("linux"):
    # Windows and offscreen contexts both come from EGL; PyOpenGL knows one platform a process.
    os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
