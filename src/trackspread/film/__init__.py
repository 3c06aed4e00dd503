"""Stills, sequence and video of a finished analysis.

`storyboard` says what is shown, on the flat ground and in the frames of `framing`. `canvas` is what stills
and video share; `still_map` and `stills` draw one picture, `frames` and `video` many, `sequence` is a page
that draws by itself. `camera` is the way from one view to the next, and `write` places everything.
"""
