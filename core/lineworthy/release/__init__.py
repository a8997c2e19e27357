# SPDX-License-Identifier: MIT
"""Releases: the record of what is made, its changes, the manifest that guards a revision."""
