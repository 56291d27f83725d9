package qa

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/qa/job"
)

// shotsInFlight is how many batches of shots wait between the reader of a file and
// the checks.
const shotsInFlight = 3

// errStopped ends the reading of a file whose shots nobody takes any more.
var errStopped = errors.New("stopped")

// points passes a point file by, batch after batch. It is read beside the checks,
// which take its batches in order.
func (r *Run) points(i int, s *job.Survey, out *collector) error {
	reader := convert.PointReader{Frame: &r.Head.Frame, Unit: r.units[i], Survey: i, Worth: pointWorth(s), Laser: s.Kind == "laser"}
	free, full := make(chan []convert.Shot, shotsInFlight), make(chan passed, shotsInFlight)
	for range shotsInFlight {
		free <- nil
	}
	stop, ended := make(chan struct{}), make(chan error, 1)
	opt := s.Reading.Options(formats.PointContent)
	opt.Points = func(at formats.Pos, batch []formats.Point) error {
		select {
		case room := <-free:
			full <- passed{shots: reader.Append(room[:0], at, batch)}
			return nil
		case <-stop:
			return errStopped
		}
	}
	if l := r.newLane(i, s, out, reader); l != nil {
		l.full, l.stop = full, stop
		opt.Plain = l.begin
	}
	var doc *formats.Document
	var in Input
	go func() {
		defer close(full)
		ended <- Beside(func() (err error) {
			doc, in, err = r.files.Decode(s.File, opt)
			return err
		})
	}()
	var failed error
	for x := range full {
		switch {
		case x.piece != nil && failed != nil:
			x.piece.Drop()
			continue
		case failed != nil:
			continue
		case x.piece != nil:
			failed = r.passBy(x.piece, out)
		default:
			for k := range x.shots {
				r.known(i, s, &x.shots[k])
			}
			failed = r.batch(i, s, x.shots, out)
		}
		switch {
		case failed != nil:
			close(stop)
		case x.shots != nil:
			free <- x.shots
		}
	}
	if err := Raise(<-ended); failed == nil && err != nil {
		return err
	}
	if failed != nil {
		return failed
	}
	return r.wasRead(i, s, doc, in)
}

// known says of a shot of a point file whether it is on a known mark, and gives it
// its place or, on a laser plane, its level.
func (r *Run) known(i int, s *job.Survey, shot *convert.Shot) {
	mark := len(r.marks) > 0 && r.marks[shot.ID] != nil
	switch {
	case shot.Use == convert.Blank:
	case s.Kind == "laser" && !mark && r.untrue[i] == "":
		r.levelOnPlane(s, shot)
	case mark:
		shot.Use, shot.Reason = convert.Control, "check shot on a known mark"
	case len(r.untrue) > 0 && r.untrue[i] != "":
		shot.Use, shot.Reason = convert.NotAssessed, r.untrue[i]
	case !shot.Placed:
		r.places.Join(shot)
	}
}

// readOnce tells whether a point file need not be read before its shots pass by: its
// unit is declared, there is no mark to look for in it, and nothing is read ahead.
// Such a file may be a pipe.
func (r *Run) readOnce(s *job.Survey) bool {
	j := r.Head.Job
	return s.Kind == "points" && len(r.marks) == 0 && j.Rework == nil && j.Nonconformance == nil && s.Reading.Declared().Known() &&
		slices.Contains([]string{".csv", ".txt", ".tsv"}, strings.ToLower(path.Ext(s.File)))
}

// wasRead enters a file that is read only once, and compares one that was read
// before with what it was then.
func (r *Run) wasRead(i int, s *job.Survey, d *formats.Document, in Input) error {
	k := slices.IndexFunc(r.Head.Inputs, func(x Input) bool { return x.File == in.File && x.Role == "points" })
	if k < 0 {
		return nil // of a run that is read ahead
	}
	if !r.once[i] {
		if r.Head.Inputs[k].SHA256 != in.SHA256 {
			return fmt.Errorf("%s was changed while it was read; nothing is written. Run the job again when the file is at rest", s.File)
		}
		return nil
	}
	if d.CRS.EPSG != "" && r.Head.Frame.EPSG != "" && d.CRS.EPSG != r.Head.Frame.EPSG {
		return fmt.Errorf("%s is in EPSG:%s, the job in EPSG:%s; one of them is wrong", s.File, d.CRS.EPSG, r.Head.Frame.EPSG)
	}
	in.Role = "points"
	if r.Head.Inputs[k].SHA256 == "" {
		r.Head.Inputs[k] = in
		r.Head.Problems = append(r.Head.Problems, d.Problems...)
		r.Head.Notes = append(r.Head.Notes, d.Notes...)
	}
	return nil
}
