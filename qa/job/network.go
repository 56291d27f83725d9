package job

import "strings"

// LevelNetwork has the level runs of the job adjusted together by least squares,
// and the levels of its junctions used as known ones where the network checks
// them.
type LevelNetwork struct {
	Junctions []string `yaml:"junctions,omitempty" json:"junctions,omitempty" jsonschema:"description=Points besides the bench marks that runs have in common; * at the end stands for any ending"`
	Weights   string   `yaml:"weights" json:"weights" jsonschema:"required,enum=setups,enum=distance,description=What the variance of a run grows with"`
	Deviation *Length  `yaml:"deviation,omitempty" json:"deviation,omitempty" jsonschema:"description=Standard deviation of one set-up or of one km levelled one way; without it only the ratios of the weights count"`
	Source    string   `yaml:"source" json:"source" jsonschema:"required,description=Who asks for the adjustment and where the deviation comes from"`
}

// Validate refuses what is no deviation, and a * that is not at the end.
func (n *LevelNetwork) Validate() (f []Fault) {
	if n.Deviation != nil && n.Deviation.Length <= 0 {
		(*faults)(&f).add("deviation", "a standard deviation is more than nought; write one, or leave the key out")
	}
	stars(&f, "junctions", n.Junctions)
	return f
}

// Joins reports whether a point of that name is a junction of the job: a bench
// mark, or one that the network names.
func (j *Job) Joins(name string) bool {
	for i := range j.BenchMarks {
		if j.BenchMarks[i].Name == name {
			return true
		}
	}
	n := j.Levelling.Network
	return n != nil && strings.TrimSpace(name) != "" && len(n.Junctions) > 0 && fits(n.Junctions, name)
}
