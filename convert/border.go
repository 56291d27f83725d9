package convert

// Border are the lines that a design surface ends at, closed: the edges of its
// visible faces, or the corners of its plane. There are none where it has no end,
// or is a table.
func (s *Surface) Border() [][]Place {
	switch {
	case s.TIN != nil:
		var out [][]Place
		for _, ring := range s.TIN.Outline() {
			line := make([]Place, 0, len(ring)+1)
			for _, v := range ring {
				line = append(line, Place{v.E, v.N})
			}
			out = append(out, append(line, line[0]))
		}
		return out
	case s.Plane != nil && s.Outline != nil:
		return s.Outline.Rings()
	}
	return nil
}
