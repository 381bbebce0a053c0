package store

import (
	"context"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// TypedLine is a line of a load's log as a hand writes it.
type TypedLine struct{ Time, House, Core, Tag string }

// ReadLine reads a typed line. A time of the chill before the load came out of the smoke
// is of the next morning. Temperatures without a unit are °F.
func (s *Store) ReadLine(ctx context.Context, day unit.Day, phase string, typed TypedLine) (LineIn, error) {
	out, err := s.firstOut(s.read(ctx), day)
	if err != nil {
		return LineIn{}, err
	}
	return s.readLine(day, phase, typed, out)
}

// ReadLines reads a pasted table: time, house, core, tag in each line, with commas,
// semicolons or tabs between and nothing where nothing was read. A first line of headings
// is left out.
func (s *Store) ReadLines(ctx context.Context, day unit.Day, phase, text string) ([]LineIn, error) {
	out, err := s.firstOut(s.read(ctx), day)
	if err != nil {
		return nil, err
	}
	var lines []LineIn
	n := 0
	for row := range strings.Lines(text) {
		if trim(row) == "" {
			continue
		}
		cells := strings.Split(strings.NewReplacer("\t", ",", ";", ",").Replace(row), ",")
		if n == 0 && strings.EqualFold(trim(cells[0]), "time") {
			continue
		}
		n++
		if len(cells) > 4 {
			return nil, wrongText("Line %d has more than time, house, core and tag.", n)
		}
		cells = append(cells, "", "", "", "")
		in, err := s.readLine(day, phase, TypedLine{trim(cells[0]), trim(cells[1]), trim(cells[2]), trim(cells[3])}, out)
		if err != nil {
			e, ok := shop.AsError(err)
			if !ok {
				return nil, err
			}
			why := e.Text
			for _, f := range []string{"time", "house", "core", "tag"} {
				if e.Fields[f] != "" {
					why = e.Fields[f]
					break
				}
			}
			return nil, wrongText("Line %d: %s", n, why)
		}
		lines = append(lines, in)
	}
	if len(lines) == 0 {
		return nil, wrongText("There is no line in it.")
	}
	return lines, nil
}

func wrongText(format string, args ...any) error {
	var w shop.Wrong
	w.Add("text", format, args...)
	return w.Err()
}

// firstOut is when the first slab of a load came out of the smoke; never before one has.
func (s *Store) firstOut(db *gorm.DB, day unit.Day) (unit.Instant, error) {
	var at *unit.Instant
	err := db.Raw("SELECT min(smoke_lines.at) FROM smoke_lines JOIN smoke_loads ON smoke_loads.id = smoke_lines.load_id WHERE smoke_loads.day = ? AND phase = ?", day, shop.OutPhase).Scan(&at).Error
	if err != nil || at == nil {
		return 0, err
	}
	return *at, nil
}

func (s *Store) readLine(day unit.Day, phase string, typed TypedLine, out unit.Instant) (LineIn, error) {
	var w shop.Wrong
	in := LineIn{Tag: typed.Tag}
	h, m, ok := clockOf(typed.Time)
	if !ok {
		w.Add("time", "Write a time such as 16:30.")
	}
	in.At = day.At(h, m, s.Loc)
	if phase == shop.ChillPhase && out != 0 && in.At < out-out%60 {
		in.At = (day + 1).At(h, m, s.Loc)
	}
	read := func(field, text string) *unit.Temp {
		if trim(text) == "" {
			return nil
		}
		if strings.IndexFunc(text, func(r rune) bool { return (r < '0' || r > '9') && r != '.' && r != '-' }) < 0 {
			text += " F"
		}
		t, err := unit.ParseTemp(text)
		if err != nil {
			w.Add(field, "%s", err)
			return nil
		}
		return &t
	}
	in.House, in.Core = read("house", typed.House), read("core", typed.Core)
	return in, w.Err()
}

// clockOf reads "8:05" or "16:30".
func clockOf(text string) (h, m int, ok bool) {
	hour, minute, ok := strings.Cut(trim(text), ":")
	if !ok || len(minute) != 2 || len(hour) == 0 || len(hour) > 2 {
		return 0, 0, false
	}
	for i, r := range hour + minute {
		if r < '0' || r > '9' {
			return 0, 0, false
		}
		if i < len(hour) {
			h = 10*h + int(r-'0')
		} else {
			m = 10*m + int(r-'0')
		}
	}
	return h, m, h < 24 && m < 60
}
