package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sightrail/qa"
	"sightrail/qa/report"
)

type setoutCmd struct {
	Job       string `arg:"" name:"job.yaml" help:"The job file."`
	Out       string `short:"o" name:"out" placeholder:"FOLDER" required:"" help:"Folder for the sheets; created when it is not there."`
	Overwrite bool   `help:"Write into a folder that holds other files."`
}

func (k *setoutCmd) run(c *console) int {
	j, in, err := loadJob(k.Job)
	if err != nil {
		return c.fail(err)
	}
	dir := filepath.Dir(k.Job)
	var names, inputs []string
	for _, kind := range report.SetoutKinds {
		names = append(names, kind.File)
	}
	for _, f := range qa.SetoutFiles(j) {
		inputs = append(inputs, f.File)
	}
	if err := freeFolder(k.Out, names, folder{dir: dir}, append(inputs, filepath.Base(k.Job)), k.Overwrite); err != nil {
		return c.fail(err)
	}
	res, err := qa.Setout(j, folder{dir: dir, watch: c.progress}, version)
	if err != nil {
		return c.fail(err)
	}
	res.Inputs = slices.Insert(res.Inputs, 0, in)
	created, err := makeFolder(k.Out)
	if err != nil {
		return c.fail(err)
	}
	out := &output{dir: k.Out}
	if err := writeSetout(res, out); err != nil {
		out.abandon()
		if created {
			os.Remove(k.Out)
		}
		return c.fail(err)
	}
	c.problems(res.Problems)
	if !c.quiet {
		tellSetout(c, res, k.Out, names)
	}
	if len(res.Problems) > 0 {
		return exitUndone
	}
	return exitOK
}

func writeSetout(res *qa.SetoutResult, out *output) error {
	for _, kind := range report.SetoutKinds {
		w, err := out.create(kind.File)
		if err != nil {
			return err
		}
		if err := kind.Write(w, res); err != nil {
			return fmt.Errorf("%s: %w", kind.File, err)
		}
	}
	return out.commit()
}

// tellSetout prints a line for each sheet.
func tellSetout(c *console, res *qa.SetoutResult, dir string, names []string) {
	for i := range res.Sheets {
		s := &res.Sheets[i]
		if s.Why != "" {
			fmt.Fprintf(c.out, "%s: nothing set out: %s\n", s.Of.Name, s.Why)
			continue
		}
		pages := report.Count(report.PageCount(res, s), "page", "pages")
		line := fmt.Sprintf("%s: %s on %s", s.Of.Name, report.Count(len(s.Rows), "row", "rows"), pages)
		marked := 0
		for k := range s.Rows {
			if len(s.Rows[k].Remarks) > 0 {
				marked++
			}
		}
		if marked > 0 {
			line += fmt.Sprintf("; %s a note: read it before the sheet is used", report.Count(marked, "row has", "rows have"))
		}
		fmt.Fprintln(c.out, line)
	}
	fmt.Fprintf(c.out, "in %s: %s\n", filepath.ToSlash(dir), strings.Join(names, ", "))
}

// freeFolder refuses a folder that holds anything but an earlier result with the
// same names, and outputs over an input.
func freeFolder(dir string, names []string, job folder, inputs []string, overwrite bool) error {
	info, err := os.Stat(dir)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: %s", dir, reason(err))
	}
	if !info.IsDir() {
		return fmt.Errorf("%s is a file; -o names a folder for the reports", dir)
	}
	for _, name := range names {
		for _, in := range inputs {
			if sameFile(job.path(in), filepath.Join(dir, name)) {
				return fmt.Errorf("%s of the folder %s is an input of the job; a report is never written over an input: choose another folder", name, dir)
			}
		}
	}
	if overwrite {
		return nil
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("%s: %s", dir, reason(err))
	}
	for _, e := range list {
		if !slices.Contains(names, e.Name()) {
			return fmt.Errorf("the folder %s holds %s, which is no report; choose an empty folder, or say --overwrite to write beside it", dir, e.Name())
		}
	}
	return nil
}
