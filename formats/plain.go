package formats

import "sightrail/formats/unit"

// PlainPoint is a point that holds nothing that needs a second look: a name and a code,
// which may be empty, a place and a level. TextE, TextN and TextZ are its numbers as they
// are written: digits with one point between them at most, and perhaps a minus before.
type PlainPoint struct {
	ID, Code            string
	E, N, Z             unit.Decimal
	TextE, TextN, TextZ string
}

// PlainRows is a piece of a list of points whose rows are read where they are needed.
// Rows follow each other from First on, and the level of each stands in column Col. It is
// for one goroutine at a time.
type PlainRows interface {
	First() int
	Col() int
	// Take fills dst with the next points and returns how many: fewer than there is room
	// for at the end of the piece, and before a row that is not plain.
	Take(dst []PlainPoint) int
}

// PlainWork is what is done with a piece of a list of points, beside other work.
type PlainWork interface {
	// Wait waits for the end of it. An error is not about the rows, which are plain.
	Wait() error
	// Commit has the points count that were taken, after all that were handed over
	// before; Drop has none of them count. One of them is called, after Wait.
	Commit() error
	Drop()
}
