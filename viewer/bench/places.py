"""Where the program keeps what is its own and not the user's files, by the custom of the system. Plain Python."""

import os
import sys
from collections.abc import Mapping
from pathlib import Path

NAME = "trimbench"
SETTINGS = "settings.toml"


def settings_path(environment: Mapping[str, str] | None = None, system: str = sys.platform) -> Path:
    """Return the file for what the user has chosen once, such as what the screen is; it need not exist.

    References
    ----------
    XDG Base Directory Specification 0.8 (XDG_CONFIG_HOME); on macOS and Windows the systems' own folders for
    applications' data, of Windows the one that follows the user.
    """
    environment = os.environ if environment is None else environment
    if system == "win32":
        roaming = environment.get("APPDATA")
        return (Path(roaming) if roaming else Path.home() / "AppData" / "Roaming") / NAME / SETTINGS
    if system == "darwin":
        return Path.home() / "Library" / "Application Support" / NAME / SETTINGS
    given = Path(environment.get("XDG_CONFIG_HOME", ""))
    return (given if given.is_absolute() else Path.home() / ".config") / NAME / SETTINGS


def state_folder(environment: Mapping[str, str] | None = None, system: str = sys.platform) -> Path:
    """Return the folder for unsaved work and for where the bench stood; it need not exist.

    References
    ----------
    XDG Base Directory Specification 0.8 (XDG_STATE_HOME); on macOS and Windows the systems' own folders for
    applications' data.
    """
    environment = os.environ if environment is None else environment
    if system == "win32":
        local = environment.get("LOCALAPPDATA")
        return (Path(local) if local else Path.home() / "AppData" / "Local") / NAME
    if system == "darwin":
        return Path.home() / "Library" / "Application Support" / NAME
    given = Path(environment.get("XDG_STATE_HOME", ""))
    return (given if given.is_absolute() else Path.home() / ".local" / "state") / NAME
