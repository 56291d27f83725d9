package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/report"
)

// partName is the file beside the results of a part.
const partName = "part.json"

// partFile is what a part leaves for merge.
type partFile struct {
	Sightrail   string     `json:"sightrail"`
	Part        int        `json:"part"`
	Of          int        `json:"of"`
	Job         string     `json:"jobSHA256"`
	Inputs      []qa.Input `json:"inputs"` // designs and all else but the points
	From        int64      `json:"from"`
	To          int64      `json:"to"`
	SHA256      string     `json:"sha256"`
	Outputs     []string   `json:"outputs"`
	Columns     []string   `json:"columns"`
	Coordinates string     `json:"coordinates"`
	Result      *qa.Part   `json:"result"`
}

// partOutputs are the reports that parts can write, because they are made row by row.
var partOutputs = []string{report.CSV.Name, report.GeoJSON.Name, report.GeoJSONLines.Name}

// others are the inputs but the points.
func others(inputs []qa.Input) (out []qa.Input) {
	for _, in := range inputs {
		if in.Role != "points" && in.Role != "job" {
			out = append(out, in)
		}
	}
	return out
}

// partKinds are the reports of a part.
func partKinds(names []string) ([]*report.Kind, error) {
	if len(names) == 0 {
		names = partOutputs[:2]
	}
	for _, n := range names {
		if !slices.Contains(partOutputs, n) {
			return nil, fmt.Errorf("--outputs: a part writes %s; merge makes the summary", strings.Join(partOutputs, ", "))
		}
	}
	return chosen(names, nil)
}

// leave writes what merge needs of a part.
func (k *checkCmd) leave(p *part, job qa.Input, r *qa.Run, kinds []*report.Kind, out *output) error {
	x := partFile{Sightrail: version, Part: p.I, Of: p.N, Job: job.SHA256, Inputs: others(r.Head.Inputs), From: p.From, To: p.To, SHA256: p.SHA256, Columns: k.Columns, Coordinates: k.Coordinates, Result: r.Part()}
	for _, kind := range kinds {
		x.Outputs = append(x.Outputs, kind.Name)
	}
	w, err := out.create(partName)
	if err != nil {
		return err
	}
	return json.NewEncoder(w).Encode(x)
}

type mergeCmd struct {
	Job       string   `arg:"" name:"job.yaml" help:"The job file that the parts were run on."`
	Parts     []string `arg:"" name:"folder" help:"Folders of all parts, in any order."`
	Out       string   `short:"o" name:"out" placeholder:"FOLDER" required:"" help:"Folder for the merged results; created when it is not there."`
	Overwrite bool     `help:"Write into a folder that holds other files."`
}

// read reads what the parts left, in their order.
func (k *mergeCmd) read(job qa.Input) (files []partFile, dirs []string, err error) {
	type found struct {
		file partFile
		dir  string
	}
	var all []found
	for _, dir := range k.Parts {
		text, err := os.ReadFile(filepath.Join(dir, partName))
		if err != nil {
			return nil, nil, fmt.Errorf("%s holds no part (%s: %s); run \"sightrail check %s --part I/N -o %s\" first", dir, partName, reason(err), shown(k.Job), dir)
		}
		var x partFile
		if err := json.Unmarshal(text, &x); err != nil || x.Result == nil {
			return nil, nil, fmt.Errorf("%s of %s cannot be read; run the part again", partName, dir)
		}
		all = append(all, found{x, dir})
	}
	slices.SortStableFunc(all, func(a, b found) int { return a.file.Part - b.file.Part })
	first := &all[0].file
	end := int64(0)
	for i, f := range all {
		x := &f.file
		same := x.Of == first.Of && slices.Equal(x.Inputs, first.Inputs) && slices.Equal(x.Outputs, first.Outputs) && slices.Equal(x.Columns, first.Columns) && x.Coordinates == first.Coordinates
		switch {
		case x.Sightrail != version:
			return nil, nil, fmt.Errorf("%s was made by version %s of sightrail, and this is %s; run it again", f.dir, x.Sightrail, version)
		case x.Job != job.SHA256:
			return nil, nil, fmt.Errorf("%s was run on another job file, or on this one before it was changed; run it again", f.dir)
		case !same:
			return nil, nil, fmt.Errorf("%s and %s were run with other inputs, options or numbers of parts; run them alike", all[0].dir, f.dir)
		case x.Part != i+1:
			return nil, nil, fmt.Errorf("part %d of %d is missing, or is there twice", i+1, x.Of)
		case x.From != end:
			return nil, nil, fmt.Errorf("%s does not begin where part %d ends; the file was changed between them: run all parts again", f.dir, i)
		}
		end = x.To
		files, dirs = append(files, f.file), append(dirs, f.dir)
	}
	if len(all) != first.Of {
		return nil, nil, fmt.Errorf("there are %d parts, and the file was cut into %d; give the folders of all", len(all), first.Of)
	}
	return files, dirs, nil
}

func (k *mergeCmd) run(c *console) int {
	j, in, err := loadJob(k.Job)
	if err != nil {
		return c.fail(err)
	}
	files, dirs, err := k.read(in)
	if err != nil {
		return c.fail(err)
	}
	check := checkCmd{Job: k.Job, Out: k.Out, Overwrite: k.Overwrite}
	if err := check.free(j, filepath.Dir(k.Job)); err != nil {
		return c.fail(err)
	}
	at := folder{dir: filepath.Dir(k.Job), watch: c.progress}
	r, err := qa.Prepare(j, checks.All, at, version)
	if err != nil {
		return c.fail(err)
	}
	if err := r.CanPart(); err != nil {
		return c.fail(err)
	}
	if !slices.Equal(others(r.Head.Inputs), files[0].Inputs) {
		return c.fail(errors.New("a design or another file of the job was changed after the parts were run; run them again"))
	}
	if err := unchanged(at.path(j.Surveys[0].File), files); err != nil {
		return c.fail(fmt.Errorf("%s: %w", j.Surveys[0].File, err))
	}
	r.Head.Inputs = slices.Insert(r.Head.Inputs, 0, in)
	r.Head.GridOnly, r.Head.Columns = files[0].Coordinates == "grid", files[0].Columns
	var parts []*qa.Part
	for i := range files {
		parts = append(parts, files[i].Result)
	}
	res, err := r.Merge(parts)
	if err != nil {
		return c.fail(err)
	}
	kinds, err := chosen(append(slices.Clone(files[0].Outputs), report.Summary.Name), nil)
	if err != nil {
		return c.fail(err)
	}
	created, err := makeFolder(k.Out)
	if err != nil {
		return c.fail(err)
	}
	out := &output{dir: k.Out}
	if err = join(kinds, dirs, res, out); err == nil {
		err = out.commit()
	}
	if err != nil {
		out.abandon()
		if created {
			os.Remove(k.Out)
		}
		return c.fail(err)
	}
	check.drop(kinds)
	c.problems(res.Problems)
	if !c.quiet {
		tell(c, res, k.Out, kinds)
	}
	return res.ExitCode()
}

// unchanged compares the bytes of every part with those it was run on.
func unchanged(path string, files []partFile) error {
	f, err := os.Open(path)
	if err != nil {
		return errors.New(reason(err))
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || info.Size() != files[len(files)-1].To {
		return errors.New("its size is another one than when the parts were run; run them again")
	}
	for i := range files {
		sum, _, err := decodeHash(io.NewSectionReader(f, files[i].From, files[i].To-files[i].From))
		if err != nil {
			return errors.New(reason(err))
		}
		if sum != files[i].SHA256 {
			return fmt.Errorf("it was changed after part %d was run; run all parts again", i+1)
		}
	}
	return nil
}

// join puts the reports of the parts together, and writes the summary.
func join(kinds []*report.Kind, dirs []string, res *qa.Result, out *output) error {
	for _, kind := range kinds {
		w, err := out.create(kind.File)
		if err != nil {
			return err
		}
		if kind == report.Summary {
			s, err := kind.Start(w, res)
			if err == nil {
				err = s.Close(res)
			}
			if err != nil {
				return fmt.Errorf("%s: %w", kind.File, err)
			}
			continue
		}
		first := true
		for i, dir := range dirs {
			if err := joinOne(kind, filepath.Join(dir, kind.File), i == 0, &first, w); err != nil {
				return fmt.Errorf("%s: %w", filepath.Join(dir, kind.File), err)
			}
		}
		if kind == report.GeoJSON {
			if _, err := w.Write([]byte(collectionEnd)); err != nil {
				return err
			}
		}
	}
	return nil
}

// The ends of a FeatureCollection as report writes it.
const (
	collectionStart = `"features":[`
	collectionEnd   = "\n]}\n"
)

// joinOne appends one report of a part: of a table what is below its heading, of a
// collection its features.
func joinOne(kind *report.Kind, path string, head bool, first *bool, w io.Writer) error {
	f, err := os.Open(path)
	if err != nil {
		return errors.New(reason(err))
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	from, to := int64(0), info.Size()
	start := make([]byte, min(to, 1<<16))
	if _, err := io.ReadFull(f, start); err != nil {
		return err
	}
	switch kind {
	case report.CSV:
		if !head {
			from = int64(bytes.IndexByte(start, '\n') + 1)
		}
	case report.GeoJSON:
		from = int64(bytes.Index(start, []byte(collectionStart)) + len(collectionStart))
		to -= int64(len(collectionEnd))
		if from < int64(len(collectionStart)) || to < from {
			return errors.New("it is no collection of features; run the part again")
		}
		if head {
			if _, err := w.Write(start[:from]); err != nil {
				return err
			}
		}
		if to > from && !*first {
			if _, err := w.Write([]byte{','}); err != nil {
				return err
			}
		}
		*first = *first && to == from
	}
	_, err = io.Copy(w, io.NewSectionReader(f, from, to-from))
	return err
}
