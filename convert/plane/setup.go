package plane

import "sightrail/formats/unit"

// Setup is one standing of a laser: the mark it was levelled on, the staff reading
// there, and what was dialled in.
type Setup struct {
	Name    string
	Date    string      // as written; nothing is worked out from it
	Mark    string      // name of the mark
	Level   unit.Length // of the mark
	Reading unit.Length // of the staff on the mark; negative when inverted
	At      Place       // of the mark
	Along   unit.Grade
	Across  unit.Grade
	Axis    Axis
	Laser   *Place // where the instrument stands, for MisalignedAbout; nil is not known
}

// FromMark is the level of a plane at the mark: level of the mark plus the staff
// reading on it.
func FromMark(level, reading unit.Length) (unit.Length, error) { return level.Add(reading) }

// Plane is the plane of the set-up. Grades without an axis are an error.
func (s *Setup) Plane() (*Plane, error) {
	level, err := FromMark(s.Level, s.Reading)
	if err != nil {
		return nil, err
	}
	p := &Plane{Origin: s.At, Level: level, Along: s.Along, Across: s.Across, Axis: s.Axis}
	_, err = p.At(p.Origin)
	return p, err
}

// Closing compares the closing shot of the day with the first reading on the mark.
// The drift is that of the plane, last minus first; on the limit is within it. A
// limit that is nil judges nothing.
func Closing(mark string, first, last unit.Length, limit *unit.Length) (LevelDrift, error) {
	drift, err := last.Add(-first)
	if err != nil {
		return LevelDrift{Peg: mark, Why: err.Error()}, err
	}
	return judgedLevel(mark, drift, limit), nil
}
