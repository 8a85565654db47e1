# Photos of entries.

## photo

photo-add = Add a photo
photo-another = Choose another photo
photo-kept = Your photo goes with it.
photo-out = Leave the photo out
photo-no_scripts = A JPEG of at most { $most } kB. What the camera wrote of place and time is taken out.
photo-scaling = The photo is being made smaller …
photo-ready = The photo goes with it: { $size } kB.
photo-unreadable = This picture cannot be read on this phone, so no photo goes with it. Choose another one, or write the entry without one.
photo-left = { $count ->
    [one] There is room for one more photo.
   *[other] There is room for { $count } more photos.
}
photo-full = There is no room for more photos. The owner can make some.
photo-open = Photo
photo-of = Photo: { $what }
photo-with = With a photo
photo-gone = The photo was deleted { $at } by { $who }.
photo-lost = The file of this photo is not on the farm’s computer any more. A copy may have it.
