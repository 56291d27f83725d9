// Package checks holds the kinds of check, one file each, and their list.
package checks

import (
	"sightrail/qa"
	"sightrail/qa/job"
)

// All lists the kinds of check. Help, schema and tests are made from it.
var All = []*qa.Check{Surface, Pipe, PipeLine, Pits, Cover, Thickness, Volume, Crossfall, Straightedge, Ponding, Coverage}

// Kinds are the kinds as the job file knows them.
func Kinds() []job.Kind {
	kinds := make([]job.Kind, len(All))
	for i, c := range All {
		kinds[i] = job.Kind{Name: c.Name, Doc: c.Doc, NoDesign: c.NoDesign, Params: c.Params}
	}
	return kinds
}
