// Package table turns rows of cells into records: level books and points. The
// two grid formats, delimited text and workbooks, share it, so that a heading
// means the same in both.
package table

import "sightrail/formats"

// Cell is one cell of a grid as text. Its column is its place in the row.
type Cell struct {
	Text string
	Date bool   // a workbook cell typed as a date: never an id
	Bad  string // why the cell cannot be used ("#REF!", stale formula); "" when it can
}

// Builder takes the rows of one grid in order and fills a Document.
type Builder struct {
	doc *formats.Document
	at  formats.Pos
	opt formats.Options
}
