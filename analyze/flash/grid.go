package flash

import "image"

// grid divides the frame into cells and lays fields over them: a field begins at every cell.
type grid struct {
	standard, of string
	frame        image.Point
	field        image.Point // its size in pixels
	divisions    image.Point // cells that a field is long and high
	reach        image.Point // cells that are counted as in it, so that every field between two is in one that is looked at
	cells        image.Point // in the frame
	positions    image.Point // of fields
	area         int64       // of a field, in pixels
}

// Geometry of WCAG 2.2: a field of 10 degrees is 341 x 256 pixels of a picture 1024 wide.
const (
	pictureWidth = 1024
	fieldWidth   = 341
	fieldHeight  = 256
	mostCells    = 32 // a field is long or high
)

// fieldGrid is the fields of 10 degrees of a frame that fills the screen's width.
func fieldGrid(frame image.Point) grid {
	field := image.Pt(max(1, fieldWidth*frame.X/pictureWidth), max(1, fieldHeight*frame.X/pictureWidth))
	return newGrid(WCAG, "a 10-degree field", frame, field, image.Pt(min(field.X, mostCells), min(field.Y, mostCells)))
}

// screenGrid is the one field that is the whole screen.
func screenGrid(frame image.Point) grid {
	return newGrid(BT1702, "the screen", frame, frame, image.Pt(1, 1))
}

func newGrid(standard, of string, frame, field, divisions image.Point) grid {
	g := grid{standard: standard, of: of, frame: frame, field: field, divisions: divisions, reach: divisions}
	if field != frame {
		if divisions.X < field.X {
			g.reach.X++
		}
		if divisions.Y < field.Y {
			g.reach.Y++
		}
	}
	g.cells = g.at(frame.X-1, frame.Y-1).Add(image.Pt(1, 1))
	g.positions = image.Pt(max(1, g.cells.X-g.reach.X+1), max(1, g.cells.Y-g.reach.Y+1))
	g.area = int64(field.X) * int64(field.Y)
	return g
}

// at is the cell that holds a pixel. Cell i begins at pixel floor(i x field / divisions), so that any as many cells as
// a field has divisions are exactly as long as a field.
func (g *grid) at(x, y int) image.Point {
	return image.Pt(((x+1)*g.divisions.X-1)/g.field.X, ((y+1)*g.divisions.Y-1)/g.field.Y)
}

// cell is the number of the cell that holds a pixel.
func (g *grid) cell(x, y int) int32 {
	at := g.at(x, y)
	return int32(at.Y*g.cells.X + at.X)
}

// isOver tells whether so many pixels, each of which stands for a square of step x step, are more than a quarter.
func (g *grid) isOver(pixels int32, step int) bool {
	return 4*int64(pixels)*int64(step)*int64(step) > g.area
}

// share is how much of a field so many pixels are, 1 at the most.
func (g *grid) share(pixels int32, step int) float64 {
	return min(1, float64(int64(pixels)*int64(step)*int64(step))/float64(g.area))
}

// place is a field in pixels of the frame.
func (g *grid) place(position int32) image.Rectangle {
	from := image.Pt(int(position)%g.positions.X, int(position)/g.positions.X)
	corner := func(p image.Point) image.Point {
		return image.Pt(p.X*g.field.X/g.divisions.X, p.Y*g.field.Y/g.divisions.Y)
	}
	return image.Rectangle{Min: corner(from), Max: corner(from.Add(g.reach))}.Intersect(image.Rectangle{Max: g.frame})
}

// holds tells whether a cell is in a field.
func (g *grid) holds(position, cell int32) bool {
	x, y := int(cell)%g.cells.X-int(position)%g.positions.X, int(cell)/g.cells.X-int(position)/g.positions.X
	return x >= 0 && x < g.reach.X && y >= 0 && y < g.reach.Y
}

// cellArea is how many pixels lie in a cell.
type cellArea struct{ cell, pixels int32 }

// surface adds up areas, cell by cell.
type surface struct {
	grid  *grid
	total int32
	cells []int32
	sums  []int32 // of all cells above and to the left, one row and column more than there are cells
}

func newSurface(g *grid) *surface {
	return &surface{grid: g, cells: make([]int32, g.cells.X*g.cells.Y), sums: make([]int32, (g.cells.X+1)*(g.cells.Y+1))}
}

// add adds areas, or takes them away with sign -1.
func (s *surface) add(areas []cellArea, sign int32) {
	for _, area := range areas {
		s.cells[area.cell] += sign * area.pixels
		s.total += sign * area.pixels
	}
}

func (s *surface) clear() {
	clear(s.cells)
	s.total = 0
}

// sum makes the sums that in needs.
func (s *surface) sum() {
	width := s.grid.cells.X
	for y := range s.grid.cells.Y {
		row, above, below := int32(0), s.sums[y*(width+1):][:width+1], s.sums[(y+1)*(width+1):][:width+1]
		for x, v := range s.cells[y*width:][:width] {
			row += v
			below[x+1] = above[x+1] + row
		}
	}
}

// in is the pixels in the field at a position.
func (s *surface) in(position int) int32 {
	g := s.grid
	x, y := position%g.positions.X, position/g.positions.X
	right, bottom := min(x+g.reach.X, g.cells.X), min(y+g.reach.Y, g.cells.Y)
	top, end := y*(g.cells.X+1), bottom*(g.cells.X+1)
	return s.sums[end+right] - s.sums[end+x] - s.sums[top+right] + s.sums[top+x]
}
