package table

import "sightrail/formats"

// Block is a piece of a list of points that is read beside others. It is made by a
// Builder, which takes over by Took what was read of it. Until then nothing else may be
// handed to the Builder.
type Block struct {
	kinds []plainKind
	delim byte
	first int
	col   int
	text  string

	at   int // bytes that were taken
	rows int
	seen levelsSeen
}

// Block returns a block of whole lines, valid UTF-8, of which the first is a row below
// the heading; nil where the list, or the state of its reading, is nothing for a quick
// reader. row is the number of the first line.
func (b *Builder) Block(row int, text string, delim byte) *Block {
	if b.opt.Points == nil || !b.readsPlain() {
		return nil
	}
	return &Block{kinds: b.plain, delim: delim, first: row, col: b.points.z + 1, text: text}
}

// First is the row of the first point.
func (p *Block) First() int { return p.first }

// Col is the column of the levels.
func (p *Block) Col() int { return p.col }

// Take reads the next points, up to the first row that is not plain.
func (p *Block) Take(dst []formats.PlainPoint) int {
	for n := range dst {
		if p.at == len(p.text) {
			return n
		}
		q := &dst[n]
		q.ID, q.Code = "", ""
		next, ok := plainRow(p.kinds, p.delim, p.text, p.at, q)
		if !ok {
			return n
		}
		p.seen.see(q.Z, p.first+p.rows, p.col)
		p.at = next
		p.rows++
	}
	return len(dst)
}

// Taken is how many rows and bytes were taken.
func (p *Block) Taken() (rows, bytes int) { return p.rows, p.at }

// Took takes over what was read of a block, and hands over the points before it.
func (b *Builder) Took(p *Block) error {
	k := b.points
	b.rows += p.rows
	k.count += p.rows
	k.seen.merge(&p.seen)
	return b.flush()
}
