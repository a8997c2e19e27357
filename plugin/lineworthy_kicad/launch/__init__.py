# SPDX-License-Identifier: MIT
"""How the dialog starts in each of the editor's two worlds: inside its process, and beside it.

Imported when the button is pressed, never before. Nothing in here may need shapely until it is known to be there.
"""
