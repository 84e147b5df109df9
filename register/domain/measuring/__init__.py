"""From marks on an image to heights, ratios and angles with their error.

Pure: marks and spacing in, numbers out. `points` reads the marks, `calibration`
says how long a pixel is, `calibration.on_plane` puts the marks on a plane in
millimetres, and from there on no module knows pixels. `lateral`, `angles`,
`frontal` and `axial` say which number is made of which marks; `error` works
them out and carries the error of placing a mark to each of them.
"""
