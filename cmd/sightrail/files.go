package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"sightrail/formats"
	"sightrail/formats/all"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// folder reads the files of a job, whose names count from the folder of the
// job file. Both kinds of slash are taken, so that a job moves between systems.
type folder struct {
	dir   string
	watch *progress
	part  *part // of the file of points; nil = the whole
}

func (f folder) path(name string) string {
	p := filepath.FromSlash(strings.ReplaceAll(name, `\`, "/"))
	if filepath.IsAbs(p) {
		return p
	}
	return filepath.Join(f.dir, p)
}

// shown is a name as messages and reports print it.
func shown(name string) string { return strings.ReplaceAll(name, `\`, "/") }

// Exists reports whether a file can be opened.
func (f folder) Exists(name string) error {
	info, err := os.Stat(f.path(name))
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return fs.ErrNotExist
		}
		return errors.New("the file cannot be opened: " + reason(err))
	}
	if info.IsDir() {
		return errors.New("this is a folder, and a file is wanted")
	}
	return nil
}

// reason is the system's reason without the path in front of it.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Decode reads one file of the job.
func (f folder) Decode(name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	r, err := os.Open(f.path(name))
	if err != nil {
		return nil, qa.Input{}, fmt.Errorf("%s: %s", shown(name), reason(err))
	}
	defer r.Close()
	size := int64(0)
	if info, err := r.Stat(); err == nil && info.Mode().IsRegular() {
		size = info.Size()
	}
	if f.part != nil && opt.Points != nil {
		return f.part.decode(r, shown(name), opt)
	}
	w, done := f.watch.watch(r, shown(name), size)
	defer done()
	opt.Bytes = size
	return decode(w, shown(name), opt)
}

// decode finds the format of a stream and reads it to its end, hashing it on
// the way. A file of no known format is a document with one problem.
func decode(r io.Reader, name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	stream := readAhead(r)
	defer stream.stop()
	br := bufio.NewReaderSize(stream, 1<<18)
	head, err := br.Peek(all.HeadBytes)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, qa.Input{}, fmt.Errorf("%s: %s", name, reason(err))
	}
	in := qa.Input{File: name}
	f, err := all.Find(name, head)
	var d *formats.Document
	if err != nil {
		d = &formats.Document{File: name}
		d.Refuse(formats.Pos{File: name}, "", "%v", err)
	} else if d, err = f.Decode(br, name, opt); err != nil {
		return nil, in, fmt.Errorf("%s: %w", name, err)
	}
	if _, err := io.Copy(io.Discard, br); err != nil {
		return nil, in, fmt.Errorf("%s: %s", name, reason(err))
	}
	in.Format, in.Bytes, in.SHA256 = d.Format, stream.size, stream.hash()
	return d, in, nil
}

// unfinished are the temporary files that a stop has to remove.
var unfinished struct {
	sync.Mutex
	names []string
}

func removeUnfinished() {
	unfinished.Lock()
	defer unfinished.Unlock()
	for _, n := range unfinished.names {
		os.Remove(n)
	}
}

// output is a set of files that appear together: each is written under a
// temporary name in its folder and renamed when all are whole.
type output struct {
	dir   string
	files []*outFile
}

type outFile struct {
	final string
	f     *os.File
	w     *bufio.Writer
}

func (o *output) create(name string) (io.Writer, error) {
	f, err := os.CreateTemp(o.dir, ".sightrail-*")
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written in %s: %s", name, o.dir, reason(err))
	}
	unfinished.Lock()
	unfinished.names = append(unfinished.names, f.Name())
	unfinished.Unlock()
	x := &outFile{final: filepath.Join(o.dir, name), f: f, w: bufio.NewWriterSize(f, 1<<18)}
	o.files = append(o.files, x)
	return x.w, nil
}

// createPath creates an empty file, and returns its temporary name for a report
// that writes to it by name.
func (o *output) createPath(name string) (string, error) {
	if _, err := o.create(name); err != nil {
		return "", err
	}
	x := o.files[len(o.files)-1]
	return x.f.Name(), nil
}

// commit finishes and renames the files.
func (o *output) commit() error {
	for _, x := range o.files {
		err := errors.Join(x.w.Flush(), x.f.Chmod(0o644), x.f.Close())
		if err != nil {
			return fmt.Errorf("%s: %s", x.final, reason(err))
		}
	}
	for _, x := range o.files {
		if err := os.Rename(x.f.Name(), x.final); err != nil {
			return fmt.Errorf("%s: %s; is it open in another program?", x.final, reason(err))
		}
	}
	o.forget()
	return nil
}

// abandon removes what was begun.
func (o *output) abandon() {
	for _, x := range o.files {
		x.f.Close()
		os.Remove(x.f.Name())
	}
	o.forget()
}

func (o *output) forget() {
	unfinished.Lock()
	defer unfinished.Unlock()
	for _, x := range o.files {
		unfinished.names = slices.DeleteFunc(unfinished.names, func(n string) bool { return n == x.f.Name() })
	}
	o.files = nil
}

// sameFile reports whether two paths are one file.
func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

// readAll reads a small file, such as a job.
func readAll(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, errors.New(reason(err))
	}
	defer f.Close()
	var b bytes.Buffer
	n, err := io.Copy(&b, io.LimitReader(f, limit+1))
	if err == nil && n > limit {
		err = fmt.Errorf("it is larger than %d bytes", limit)
	}
	return b.Bytes(), err
}

// unitFlag is the option --unit: a unit, or feet and inches.
func unitFlag(name string) (u unit.Unit, feetInches bool) {
	u, _ = unit.ByName(name)
	return u, name == "ft-in"
}

// Text reads a small file of the job as it is.
func (f folder) Text(name string, most int64) ([]byte, qa.Input, error) {
	text, err := readAll(f.path(name), most)
	if err != nil {
		return nil, qa.Input{}, fmt.Errorf("%s: %v", shown(name), err)
	}
	sum := sha256.Sum256(text)
	return text, qa.Input{File: shown(name), SHA256: hex.EncodeToString(sum[:]), Format: "csv", Bytes: int64(len(text))}, nil
}

// decodeHash reads a stream to its end, and returns its SHA-256 and size.
func decodeHash(r io.Reader) (sum string, size int64, err error) {
	h := sha256.New()
	size, err = io.Copy(h, r)
	return hex.EncodeToString(h.Sum(nil)), size, err
}
