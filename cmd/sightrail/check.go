package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
	"sightrail/qa/report"
)

type checkCmd struct {
	Job         string   `arg:"" name:"job.yaml" help:"The job file."`
	Out         string   `short:"o" name:"out" placeholder:"FOLDER" required:"" help:"Folder for the reports; created when it is not there."`
	Overwrite   bool     `help:"Write into a folder that holds other files."`
	Outputs     []string `placeholder:"LIST" help:"Which reports to write, with commas between: ${outputs}."`
	Columns     []string `placeholder:"LIST" help:"Columns of results.csv, in this order, with commas between, by the names in its heading; also design_grade and built_grade. The GeoJSON then has properties of these names. Without it, all."`
	Part        string   `placeholder:"I/N" help:"Run the part I of N of the job's one file of points only, for merge to put together; for a scheduler of jobs."`
	Coordinates string   `enum:"wgs84,grid" default:"wgs84" help:"Coordinates of the GeoJSON: wgs84 (longitude and latitude) or grid (easting and northing of the job)."`
}

// jobBytes is the largest job file that is read.
const jobBytes = 16 << 20

// loadJob reads a job file.
func loadJob(path string) (*job.Job, qa.Input, error) {
	name := shown(filepath.Base(path))
	text, err := readAll(path, jobBytes)
	if err != nil {
		return nil, qa.Input{}, fmt.Errorf("the job file %s cannot be read: %v", shown(path), err)
	}
	sum := sha256.Sum256(text)
	in := qa.Input{File: name, SHA256: hex.EncodeToString(sum[:]), Role: "job", Format: "yaml", Bytes: int64(len(text))}
	j, err := job.Load(name, text, checks.Kinds())
	return j, in, err
}

func (k *checkCmd) run(c *console) int {
	if _, err := chosen(k.Outputs, nil); err != nil {
		return c.fail(err)
	}
	var p *part
	if k.Part != "" {
		var err error
		if p, err = parsePart(k.Part); err != nil {
			return c.fail(err)
		}
	}
	if err := report.CheckColumns(k.Columns); err != nil {
		return c.fail(fmt.Errorf("--columns: %w", err))
	}
	j, in, err := loadJob(k.Job)
	if err != nil {
		return c.fail(err)
	}
	kinds, err := chosen(k.Outputs, j)
	if p != nil {
		kinds, err = partKinds(k.Outputs)
	}
	if err != nil {
		return c.fail(err)
	}
	if err := judges(j); err != nil {
		return c.fail(err)
	}
	if err := k.free(j, filepath.Dir(k.Job)); err != nil {
		return c.fail(err)
	}
	if err := k.keepsDecisions(j, folder{dir: filepath.Dir(k.Job)}); err != nil {
		return c.fail(err)
	}
	defer gather(gatherReading)()
	r, err := qa.Prepare(j, checks.All, folder{filepath.Dir(k.Job), c.progress, p}, version)
	if err != nil {
		return c.fail(err)
	}
	if p != nil {
		if err := r.CanPart(); err != nil {
			return c.fail(err)
		}
		r.KeepPart()
	}
	r.Head.Inputs = slices.Insert(r.Head.Inputs, 0, in)
	r.Head.GridOnly, r.Head.Columns = k.Coordinates == "grid", k.Columns
	created, err := makeFolder(k.Out)
	if err != nil {
		return c.fail(err)
	}
	out := &output{dir: k.Out}
	passSparingly()
	res, err := write(r, kinds, out)
	if err == nil && p != nil {
		err = k.leave(p, in, r, kinds, out)
	}
	if err == nil {
		err = out.commit()
	}
	if err != nil {
		out.abandon()
		if created {
			os.Remove(k.Out)
		}
		return c.fail(err)
	}
	k.drop(kinds)
	if p != nil {
		if !c.quiet {
			fmt.Fprintf(c.out, "part %d of %d: %d rows, in %s; merge puts the parts together\n", p.I, p.N, res.Account.Read, filepath.ToSlash(k.Out))
		}
		return exitOK // the verdict is that of the whole
	}
	c.problems(res.Problems)
	if !c.quiet {
		tell(c, res, k.Out, kinds)
	}
	return res.ExitCode()
}

// judges refuses a job that has nothing to judge.
func judges(j *job.Job) error {
	var list formats.ErrorList
	for _, x := range []struct {
		key, what string
		n         int
	}{{"surveys", "field data", len(j.Surveys)}, {"checks", "what is judged", len(j.Checks)}} {
		if x.n == 0 {
			list = append(list, formats.Problem{Pos: j.Where(x.key), Field: x.key,
				Text: fmt.Sprintf("the job has no \"%s:\" (%s), so there is nothing to check; add them, or use \"sightrail setout\" where the job is for setting out only", x.key, x.what)})
		}
	}
	return list.Err()
}

// write runs the checks and writes the reports.
func write(r *qa.Run, kinds []*report.Kind, out *output) (*qa.Result, error) {
	writers, names := make([]report.Writer, len(kinds)), make([]string, len(kinds))
	var keep qa.Keep
	for i, kind := range kinds {
		if kind.Keeps {
			keep = qa.Keep{Rows: qa.MaxRows, Failures: qa.MaxKept}
		}
		names[i] = kind.File
		var err error
		if writers[i], err = start(kind, out, &r.Head); err != nil {
			return nil, err
		}
	}
	fan := report.NewFan(names, writers)
	res, err := r.To(fan, keep)
	if end := fan.Close(res); err == nil {
		err = end
	}
	return res, err
}

func start(kind *report.Kind, out *output, head *qa.Result) (report.Writer, error) {
	var w report.Writer
	var err error
	if kind.StartFile != nil {
		path, e := out.createPath(kind.File)
		if e != nil {
			return nil, e
		}
		w, err = kind.StartFile(path, head)
	} else {
		to, e := out.create(kind.File)
		if e != nil {
			return nil, e
		}
		w, err = kind.Start(to, head)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", kind.File, err)
	}
	return w, nil
}

// chosen are the reports that were asked for, in the order of the list; when none
// was, those that the job has something to write in.
func chosen(names []string, j *job.Job) ([]*report.Kind, error) {
	var out []*report.Kind
	if len(names) == 0 {
		for _, k := range report.Kinds {
			if !k.Asked && (k.When == nil || j == nil || k.When(j)) {
				out = append(out, k)
			}
		}
		return out, nil
	}
	for _, k := range report.Kinds {
		if slices.Contains(names, k.Name) {
			out = append(out, k)
		}
	}
	for _, n := range names {
		if !slices.ContainsFunc(report.Kinds, func(k *report.Kind) bool { return k.Name == n }) {
			return nil, fmt.Errorf("--outputs: there is no report %q; there are %s", n, reportNames())
		}
	}
	return out, nil
}

func reportNames() string {
	var names []string
	for _, k := range report.Kinds {
		names = append(names, k.Name)
	}
	return strings.Join(names, ", ")
}

// free refuses a folder that holds anything but an earlier result, and outputs
// over an input.
func (k *checkCmd) free(j *job.Job, dir string) error {
	var names, inputs []string
	for _, kind := range report.Kinds {
		names = append(names, kind.File)
	}
	names = append(names, partName)
	for _, f := range qa.CheckFiles(j) {
		inputs = append(inputs, f.File)
	}
	return freeFolder(k.Out, names, folder{dir: dir}, inputs, k.Overwrite)
}

// keepsDecisions refuses to write over a register that somebody has written
// decisions into which this run does not carry on.
func (k *checkCmd) keepsDecisions(j *job.Job, files folder) error {
	old, err := os.ReadFile(filepath.Join(k.Out, report.Register.File))
	if err != nil {
		return nil // there is none; what cannot be read cannot be written over either
	}
	var other []byte
	if j.Register != "" {
		other, _, _ = files.Text(j.Register, qa.MaxRegisterBytes)
	}
	if lost := qa.Undecided(old, other); len(lost) > 0 {
		return fmt.Errorf("%s in %s holds decisions that this run does not carry on (%s); copy it beside the job and name it there as \"register:\", or write into another folder",
			report.Register.File, filepath.ToSlash(k.Out), strings.Join(lost[:min(len(lost), 5)], ", "))
	}
	return nil
}

// makeFolder creates the folder for the reports and tells whether it did.
func makeFolder(dir string) (bool, error) {
	if _, err := os.Stat(dir); err == nil {
		return false, nil
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return false, fmt.Errorf("the folder %s cannot be created: %s", dir, reason(err))
	}
	return true, nil
}

// drop removes reports of an earlier result that this run did not write: a
// folder holds one result.
func (k *checkCmd) drop(kinds []*report.Kind) {
	for _, old := range report.Kinds {
		if !slices.Contains(kinds, old) {
			os.Remove(filepath.Join(k.Out, old.File))
		}
	}
	if k.Part == "" {
		os.Remove(filepath.Join(k.Out, partName))
	}
}

// tell prints the verdict in a few lines.
func tell(c *console, res *qa.Result, dir string, kinds []*report.Kind) {
	for _, line := range report.Verdict(res) {
		fmt.Fprintln(c.out, line)
	}
	var files []string
	for _, k := range kinds {
		files = append(files, k.File)
	}
	fmt.Fprintf(c.out, "in %s: %s\n", filepath.ToSlash(dir), strings.Join(files, ", "))
}

type schemaCmd struct{}

func (schemaCmd) run(c *console) int {
	b, err := job.Schema(checks.Kinds())
	if err != nil {
		return c.fail(err)
	}
	fmt.Fprintln(c.out, strings.TrimSpace(string(b)))
	return exitOK
}

type checksCmd struct {
	Kind string `arg:"" optional:"" help:"Print the page of this kind of check only: what it measures, formula, source, example, keys."`
}

func (k checksCmd) run(c *console) int {
	kinds := checks.All
	if k.Kind != "" {
		kinds = nil
		var names []string
		for _, x := range checks.All {
			names = append(names, x.Name)
			if x.Name == k.Kind {
				kinds = []*qa.Check{x}
			}
		}
		if kinds == nil {
			return c.fail(fmt.Errorf("there is no kind of check %q; there are %s", k.Kind, strings.Join(names, ", ")))
		}
	}
	for i, x := range kinds {
		if i > 0 {
			fmt.Fprintln(c.out)
		}
		checkPage(c.out, x)
	}
	return exitOK
}

// checkPage prints all that is known of a kind of check, from its one value.
func checkPage(w io.Writer, k *qa.Check) {
	fmt.Fprintf(w, "%s: %s\n", k.Name, k.Title)
	paragraph(w, "", k.Doc)
	for _, p := range []struct{ head, text string }{{"Formula", k.Formula}, {"Source", k.Source}, {"Example", k.Example}} {
		if p.text != "" {
			paragraph(w, p.head+": ", p.text)
		}
	}
	fmt.Fprintln(w, "  Keys:")
	for _, p := range job.Keys(k.Params()) {
		fmt.Fprintf(w, "  %-18s %s\n", p.Name, p.Doc)
	}
}

// pageWidth is where lines of a page are broken.
const pageWidth = 92

// paragraph prints a text in lines, indented.
func paragraph(w io.Writer, head, text string) {
	line := "  " + head
	for i, word := range strings.Fields(text) {
		switch {
		case i > 0 && len([]rune(line))+1+len([]rune(word)) > pageWidth:
			fmt.Fprintln(w, line)
			line = "    " + word
		case i > 0:
			line += " " + word
		default:
			line += word
		}
	}
	fmt.Fprintln(w, line)
}
