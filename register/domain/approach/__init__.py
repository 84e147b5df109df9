"""The way of a needle through the pedicle into the body, and what fits through it.

Body frame, in mm: x to the patient's left, y to the back, z to the head. The
origin is the middle of the posterior wall: half-way between its left and right
end, half-way between its upper and lower corner. So the body lies at negative y
and an entry behind it at positive y.

Angles are degrees. The medial angle is seen in the axial view, positive when the
needle converges towards the midline in front; published series use both signs,
which is why the sign is fixed here. The cranial angle is seen in the lateral
view against the perpendicular of the posterior wall, positive when the tip lies
nearer to the head. None is "not known" or "not defined", never 0.

A planning aid, not guidance: position is confirmed on the image intensifier.
"""
