# SPDX-License-Identifier: MIT
"""The dialog: one window for every host.

`contract` is what its two halves promise each other, as plain data; `presenter` decides and knows no widgets; `view`
and the files it is made of draw and know nothing of the review. `app.open_dialog` puts them together.
"""
