package shoot

// What a person sees in the video is a fault, what only the figures show is a note. The limits between both follow
// Weber's law: side by side, the eye tells amounts of light that differ by about one part in a hundred (common
// practice; DICOM PS3.14 and BT.1702 build on the same figure). Where that is finer than can be measured, the limit is
// what can be measured.
const (
	// VisibleLight is one part in a hundred, in stops: log2(1.01). A column that comes from a brighter photo than its
	// surroundings stands out by so much along its whole edge, and flickers when levels change.
	VisibleLight = 0.0144
	// visibleTint is by how many stops a channel may drift against the others: two parts in a hundred of one channel
	// are half a just noticeable difference of colour (CIE 1976) and as much again of doubt.
	visibleTint = 0.03
	// visibleUneven is by how many stops the light may change in one part of the picture more than in another: twice
	// VisibleLight, for it comes on softly over the picture.
	visibleUneven = 0.03
	// VisibleShift is by how many pixels of the frame a photo may be off. The eye tells a tenth of a pixel where a line
	// is broken (vernier acuity); a shift is measured to 0.15, and quarters are told apart from nothing.
	VisibleShift = 0.25
	// visibleTurn is by how many pixels of the frame a turn or a zoom may move the corners.
	visibleTurn = 0.5
	// visibleSoftness is the share of the fine detail that a photo must keep: edges spread over a pixel instead of half
	// of one leave three quarters, and are seen to soften when photos change.
	visibleSoftness = 0.8
	// softInColumns is the share of the objects' detail, in the reduced photo, that must be kept. The finest detail is gone there
	// already: a blur that leaves four fifths of that leaves some nine tenths of the rest.
	softInColumns = 0.9
	// visibleNoise is by how many 8-bit steps noise may exceed the set's: grain of a few pixels needs three times the
	// contrast of an area to be seen (common practice), and three steps are that at middle grey.
	visibleNoise = 3.0
	// notedNoise is where it is mentioned.
	notedNoise = 1.5
	// notedBurnt is by which share of the still area more may be burnt out than in the base plate before it is mentioned.
	notedBurnt = 0.01
	// notedStill is the share of the picture that should be still for measures to be good.
	notedStill = 0.05

	// seamPercent is by how many parts in a hundred a photo's light may differ from the base plate's along a column's
	// soft edge: twice what the eye tells, for a soft edge is seen less than a hard one.
	seamPercent = 2
	// leastStep is one and a half 8-bit steps, in hundredths: one can not be seen, and JPEG leaves as much where it is dark.
	leastStep = 150
	// reducedFrame is the scale, in frame pixels a photo pixel, below which the loss of the photo's finest detail does
	// not reach the frame, and softInReduced the share that must be kept then.
	reducedFrame  = 0.6
	softInReduced = 0.5

	// doubleRise is how many times a column must rise by its usual step, in most columns at once, for a photo to be
	// missing there: two objects are twice as high as one, and objects differ.
	doubleRise = 1.55
	// doubleFirst is the same at the first level, where the shadow on the ground counts as well.
	doubleFirst = 2.2
)
