"""What the shop has set once, so that it need not be typed every time: one TOML file of texts.

Every command reads it, so importing this loads neither arrays nor the TOML editor.
"""

from leakdown.settings.change import Change, set_value, unset
from leakdown.settings.keys import KEYS, NAMES, Checks, Key
from leakdown.settings.shop import ShopSettings, read_settings
from leakdown.shop_files import PATH_VARIABLE, knowledge_folder, settings_path

__all__ = [
    "KEYS", "NAMES", "PATH_VARIABLE", "Change", "Checks", "Key", "ShopSettings",
    "knowledge_folder", "read_settings", "set_value", "settings_path", "unset",
]  # fmt: skip
