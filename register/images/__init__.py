"""Files with pictures: taken in, read under limits, kept. No models, no pages.

The server never opens such a file itself: `child.py` hands it to a process of its own
(`dicom_child.py`), which answers with plain facts and pixel values.
"""
