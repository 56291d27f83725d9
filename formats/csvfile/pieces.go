package csvfile

import (
	"runtime"
	"strings"

	"sightrail/formats"
	"sightrail/formats/table"
)

// pieces has whole blocks of plain rows read elsewhere, by Options.Plain, several at
// once, and settles them in the order of the file. At the first row that is not plain
// what was begun behind it is given up, and the lines are read one by one: a row may
// change how those below it are to be read.
type pieces struct {
	take    func(formats.Pos, formats.PlainRows) (formats.PlainWork, error)
	begun   []piece
	until   int // so many blocks are read line by line
	holdOff int // how many of them there were after the last piece that was not plain
}

type piece struct {
	rows  *table.Block
	text  string
	first int // its first line
	lines int
	work  formats.PlainWork
}

// maxHoldOff is how many blocks are at most read line by line after one that was not
// plain: of a file with many of them little work is done twice.
const maxHoldOff = 1024

// piecemeal hands blocks on as long as they are plain.
func (x *decoder) piecemeal() error {
	p, l := &x.pieces, x.lines
	most := runtime.GOMAXPROCS(0) + 1
	for {
		if l.block == "" {
			if err := l.fill(); err != nil {
				p.drop()
				return err
			}
		}
		if l.block == "" || !x.plainBlock() {
			_, err := x.settle(0)
			return err
		}
		if whole, err := x.settle(most - 1); err != nil || !whole {
			return err
		}
		rows := x.b.Block(l.row+1, l.block, x.s.delim)
		if rows == nil {
			_, err := x.settle(0)
			return err
		}
		work, err := p.take(x.at, rows)
		if err != nil {
			p.drop()
			return err
		}
		n := strings.Count(l.block, "\n")
		if l.block[len(l.block)-1] != '\n' {
			n++
		}
		p.begun = append(p.begun, piece{rows, l.block, l.row + 1, n, work})
		l.block, l.lf = "", -1
		l.row += n
	}
}

// plainBlock reports whether what is left of the block may be handed on.
func (x *decoder) plainBlock() bool {
	l := x.lines
	return x.pieces.take != nil && x.s.delim != ' ' && !l.suspect && len(l.pushed) == 0 && l.jumpBy == 0 && len(l.block) <= formats.MaxLineBytes && l.blocks > x.pieces.until
}

// settle waits for pieces, the oldest first, until most of them are left, and commits
// them. whole is false where one held a row that is not plain: then none is left, and the
// lines go on with that row.
func (x *decoder) settle(most int) (whole bool, err error) {
	p := &x.pieces
	for len(p.begun) > most {
		o := p.begun[0]
		p.begun = p.begun[1:]
		err := o.work.Wait()
		if err == nil {
			err = x.b.Took(o.rows)
		}
		if err != nil {
			o.work.Drop()
		} else {
			err = o.work.Commit()
		}
		if err != nil {
			p.drop()
			return false, err
		}
		if rows, bytes := o.rows.Taken(); bytes < len(o.text) {
			x.giveBack(o.first+rows-1, o.text[bytes:])
			return false, nil
		}
	}
	return true, nil
}

// giveBack goes on with the rest of a piece behind a line, and with all blocks behind it.
func (x *decoder) giveBack(row int, rest string) {
	p, l := &x.pieces, x.lines
	var stash []block
	for i := range p.begun {
		stash = append(stash, block{text: p.begun[i].text})
	}
	p.drop()
	if l.block != "" {
		stash = append(stash, block{l.block, l.suspect})
	}
	l.stash = append(stash, l.stash...)
	l.block, l.lf, l.suspect, l.row = rest, -1, false, row
	p.until = l.blocks + p.holdOff
	p.holdOff = min(max(2*p.holdOff, 1), maxHoldOff)
}

// drop gives up what was begun.
func (p *pieces) drop() {
	for i := range p.begun {
		_ = p.begun[i].work.Wait() // of no use any more, whatever it came to
		p.begun[i].work.Drop()
	}
	p.begun = nil
}
