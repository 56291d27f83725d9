// Package report holds the kinds of report, one file each, and their list. A
// kind gets the rows of a run as they come and the Result at the end. Text from
// input files is inert in every one of them.
package report

import (
	"io"

	"sightrail/qa"
	"sightrail/qa/job"
)

// Kind is one kind of report.
type Kind struct {
	Name string // in --outputs: "html"
	File string // "report.html"
	Doc  string
	// Start begins a report on w. head is the Result before the checks ran: job,
	// frame, inputs, design; its counts are not final.
	Start func(w io.Writer, head *qa.Result) (Writer, error)
	// StartFile, where it is set, takes the place of Start: the report is written
	// to a file by its name, which is there and empty.
	StartFile func(path string, head *qa.Result) (Writer, error)
	Keeps     bool // it needs rows and failures kept in the Result
	Asked     bool // written only when it is asked for by name
	// When, where it is set, tells whether a job has anything to write in it; a
	// report that is asked for by name is written all the same.
	When func(*job.Job) bool
}

// Writer writes one report.
type Writer interface {
	// Rows takes the next rows, in file order. The slice is reused.
	Rows(rows []qa.Row) error
	// Close writes what is left from the final Result. It does not close w.
	Close(res *qa.Result) error
}

// Kinds lists the reports in the order they are named in.
var Kinds = []*Kind{HTML, Workbook, CSV, Lots, Register, GeoJSON, GeoJSONLines, GeoPackage, GeoParquet, Summary}
