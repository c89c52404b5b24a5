package main

import "math"

// mineral is what a stone is made of, as far as the eye can tell. Colours are
// linear reflectances from 0 to 1.
type mineral struct {
	ground  vector  // main colour
	patches vector  // colour of the cloudy patches
	cloudy  float64 // 0: none, 1: as strong as the ground
	coarse  float64 // patches per unit of length

	specks     vector  // colour of the grains
	speckled   float64 // share of the surface that they cover, roughly
	glints     vector  // colour of a second kind of grain
	glinting   float64
	grainScale float64 // grains per unit of length

	veins     vector // colour of the veins
	veinCount int
	veinWidth float64 // units of length

	strata      float64 // how strongly the beds of a sediment show, 0 to 1
	strataScale float64 // beds per unit of length

	rough float64 // height of the surface's roughness, units of length
	shine float64 // exponent of the highlight: 10 dull, 60 polished
	gloss float64 // strength of the highlight, 0 to 1
}

// minerals by name, as the stacks' recipes call them.
func minerals() map[string]mineral {
	return map[string]mineral{
		"granite": {
			ground: vector{0.46, 0.44, 0.41}, patches: vector{0.55, 0.51, 0.47}, cloudy: 0.7, coarse: 3,
			specks: vector{0.07, 0.07, 0.075}, speckled: 0.17, glints: vector{0.74, 0.72, 0.68}, glinting: 0.16, grainScale: 17,
			rough: 0.010, shine: 18, gloss: 0.5,
		},
		"rose granite": {
			ground: vector{0.47, 0.29, 0.22}, patches: vector{0.50, 0.37, 0.29}, cloudy: 0.9, coarse: 3.4,
			specks: vector{0.10, 0.075, 0.07}, speckled: 0.14, glints: vector{0.66, 0.54, 0.46}, glinting: 0.18, grainScale: 15,
			rough: 0.010, shine: 18, gloss: 0.5,
		},
		"basalt": {
			ground: vector{0.085, 0.088, 0.095}, patches: vector{0.125, 0.125, 0.128}, cloudy: 0.8, coarse: 2.2,
			specks: vector{0.04, 0.04, 0.045}, speckled: 0.08, glints: vector{0.26, 0.26, 0.26}, glinting: 0.05, grainScale: 22,
			rough: 0.007, shine: 34, gloss: 1,
		},
		"slate": {
			ground: vector{0.20, 0.235, 0.275}, patches: vector{0.26, 0.285, 0.31}, cloudy: 0.8, coarse: 1.8,
			specks: vector{0.12, 0.14, 0.17}, speckled: 0.05, grainScale: 20,
			veins: vector{0.70, 0.70, 0.68}, veinCount: 2, veinWidth: 0.028,
			strata: 0.20, strataScale: 9, rough: 0.008, shine: 26, gloss: 0.8,
		},
		"sandstone": {
			ground: vector{0.56, 0.40, 0.25}, patches: vector{0.47, 0.30, 0.17}, cloudy: 0.8, coarse: 1.6,
			specks: vector{0.36, 0.22, 0.13}, speckled: 0.08, grainScale: 24,
			strata: 0.32, strataScale: 7, rough: 0.012, shine: 10, gloss: 0.25,
		},
		"quartz": {
			ground: vector{0.80, 0.77, 0.72}, patches: vector{0.70, 0.62, 0.53}, cloudy: 0.7, coarse: 1.7,
			specks: vector{0.60, 0.52, 0.44}, speckled: 0.05, grainScale: 10,
			veins: vector{0.62, 0.47, 0.33}, veinCount: 2, veinWidth: 0.016,
			rough: 0.006, shine: 40, gloss: 0.9,
		},
		"greenstone": {
			ground: vector{0.22, 0.26, 0.205}, patches: vector{0.31, 0.335, 0.255}, cloudy: 0.9, coarse: 2.4,
			specks: vector{0.11, 0.14, 0.10}, speckled: 0.10, grainScale: 16,
			veins: vector{0.60, 0.62, 0.52}, veinCount: 1, veinWidth: 0.022,
			strata: 0.16, strataScale: 6, rough: 0.008, shine: 24, gloss: 0.7,
		},
		"gneiss": {
			ground: vector{0.40, 0.38, 0.36}, patches: vector{0.52, 0.48, 0.43}, cloudy: 0.7, coarse: 2,
			specks: vector{0.14, 0.13, 0.13}, speckled: 0.09, glints: vector{0.66, 0.63, 0.58}, glinting: 0.07, grainScale: 19,
			strata: 0.62, strataScale: 5.5, rough: 0.009, shine: 20, gloss: 0.5,
		},
		"ochre": {
			ground: vector{0.52, 0.42, 0.30}, patches: vector{0.40, 0.34, 0.27}, cloudy: 1, coarse: 2.1,
			specks: vector{0.25, 0.19, 0.14}, speckled: 0.09, glints: vector{0.68, 0.60, 0.48}, glinting: 0.06, grainScale: 18,
			rough: 0.010, shine: 14, gloss: 0.35,
		},
		"bluestone": {
			ground: vector{0.31, 0.335, 0.36}, patches: vector{0.385, 0.40, 0.41}, cloudy: 0.8, coarse: 2.5,
			specks: vector{0.16, 0.18, 0.20}, speckled: 0.10, glints: vector{0.55, 0.57, 0.58}, glinting: 0.05, grainScale: 20,
			rough: 0.008, shine: 20, gloss: 0.5,
		},
	}
}

// colour is the mineral's reflectance at a place in the stone's own frame.
func (m *mineral) colour(p vector, seed uint64) vector {
	cloud := layeredNoise(p.times(m.coarse), 4, seed^0xc10d)
	colour := mixColour(m.ground, m.patches, m.cloudy*smooth(-0.45, 0.55, cloud))
	if m.strata > 0 {
		bedding := vector{share(scramble(seed^1)) - 0.5, 1.6, share(scramble(seed^2)) - 0.5}.unit()
		along := bedding.dot(p)*m.strataScale + 0.9*gradientNoise(p.times(1.4), seed^0xbed)
		bed := layeredNoise(vector{along, 0.3, 0.7}, 3, seed^0xbed5)
		colour = colour.times(1 + m.strata*clamp(1.5*bed, -0.85, 0.85))
	}
	if m.speckled > 0 {
		grain := gradientNoise(p.times(m.grainScale), seed^0x9a1) + 0.45*gradientNoise(p.times(m.grainScale*2.1), seed^0x9a2)
		threshold := 0.62 - 1.6*m.speckled
		colour = mixColour(colour, m.specks, 0.85*smooth(threshold, threshold+0.12, grain))
	}
	if m.glinting > 0 {
		grain := gradientNoise(p.times(m.grainScale*0.8), seed^0x911) + 0.4*gradientNoise(p.times(m.grainScale*1.9), seed^0x912)
		threshold := 0.62 - 1.6*m.glinting
		colour = mixColour(colour, m.glints, 0.75*smooth(threshold, threshold+0.14, grain))
	}
	for vein := 0; vein < m.veinCount; vein++ {
		chance := scramble(seed ^ uint64(0x7e1+vein))
		plane := vector{share(chance) - 0.5, share(scramble(chance)) - 0.2, share(scramble(chance+1)) - 0.5}.unit()
		offset := 0.5 * (share(scramble(chance+2)) - 0.5)
		bend := 0.16*gradientNoise(p.times(1.5), chance) + 0.035*gradientNoise(p.times(6), chance)
		width := m.veinWidth * (1 + 0.9*gradientNoise(p.times(2.4), chance^0xff))
		far := math.Abs(plane.dot(p) - offset + bend)
		colour = mixColour(colour, m.veins, 0.8*(1-smooth(width*0.5, width+0.012, far)))
	}
	return colour
}

// relief is the height of the surface's roughness, in units of length.
func (m *mineral) relief(p vector, seed uint64) float64 {
	return m.rough * (1.6*gradientNoise(p.times(4.1), seed^0xe1) +
		0.8*gradientNoise(p.times(9.7), seed^0xe2) + 0.45*gradientNoise(p.times(23), seed^0xe3))
}

// roughened tilts the unit normal n of the stone at p by the slope of the relief.
func (s *stone) roughened(p, n vector) vector {
	const h = 0.012
	here := s.mineral.relief(s.ownPlace(p), s.seed)
	a, b := n.frame()
	along := (s.mineral.relief(s.ownPlace(p.towards(a, h)), s.seed) - here) / h
	across := (s.mineral.relief(s.ownPlace(p.towards(b, h)), s.seed) - here) / h
	return n.minus(a.times(along)).minus(b.times(across)).unit()
}
