package heat

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"flitchbook/planner/unit"
)

// A LogLine is one reading of a file and the line it stands on.
type LogLine struct {
	Line int
	Reading
}

// A LineError says what is wrong with one line of a file; Line 0 is the file as a whole.
type LineError struct {
	Line int
	Text string
}

func (e LineError) Error() string {
	if e.Line == 0 {
		return e.Text
	}
	return fmt.Sprintf("Line %d: %s", e.Line, e.Text)
}

// ParseLog reads a thermometer's file: comma, semicolon or tab between the columns, whose
// first line names them. Two are read, time and temperature; the rest are passed over. A
// time carries its zone ("2026-11-08T08:15:00Z", "2026-11-08 02:15 -06:00"), or its column
// is named UTC, or it is on the clocks of loc. A temperature carries its scale, or its
// column names it. It returns every line that is wrong, and then no readings count.
//
// The hour the clocks go back over is told apart by the order of the lines: where the
// times step back, the second pass begins. A file that goes through that hour once cannot
// be told apart and has to name the zone.
func ParseLog(text string, loc *time.Location) ([]LogLine, []LineError) {
	if !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
		return nil, []LineError{{0, "This is not a text file. Save the readings as CSV."}}
	}
	text = strings.TrimPrefix(text, "\ufeff")
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace = separator(text), -1, true
	p := logParser{loc: loc}
	for first := true; ; first = false {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			p.fail(bad.Line, "A quotation mark is not closed, or stands inside a word.")
			break
		}
		if err != nil {
			p.fail(0, "The file cannot be read: %s.", err)
			break
		}
		line, _ := r.FieldPos(0)
		if first {
			if !p.header(line, row) {
				break
			}
			continue
		}
		p.row(line, row)
	}
	if len(p.wrong) == 0 && len(p.rows) == 0 {
		p.fail(0, "There is no reading in this file. Its first line names the columns time and temperature; a reading stands on each line after it.")
	}
	p.placeOnClock()
	if len(p.wrong) > 0 {
		slices.SortStableFunc(p.wrong, func(a, b LineError) int { return cmp.Compare(a.Line, b.Line) })
		return nil, p.wrong
	}
	return p.readings()
}

// separator is the one that stands most often in the first line.
func separator(text string) rune {
	first, _, _ := strings.Cut(text, "\n")
	best, n := ',', strings.Count(first, ",")
	for _, c := range []rune{';', '\t'} {
		if k := strings.Count(first, string(c)); k > n {
			best, n = c, k
		}
	}
	return best
}

type logParser struct {
	loc        *time.Location
	time, temp int    // columns
	utc        bool   // the column of times says so
	scale      string // the column of temperatures says so: "F", "C" or ""
	rows       []logRow
	wrong      []LineError
}

// A logRow is a line read; when its zone is not told, wall is what the clock showed and
// may are the moments it showed that.
type logRow struct {
	line int
	temp unit.Temp
	at   unit.Instant
	wall string
	may  []unit.Instant
}

func (p *logParser) fail(line int, format string, args ...any) {
	p.wrong = append(p.wrong, LineError{line, fmt.Sprintf(format, args...)})
}

// header finds the columns by their names.
func (p *logParser) header(line int, row []string) bool {
	p.time, p.temp = -1, -1
	for i, name := range row {
		words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) })
		has := func(any ...string) bool {
			return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(any, w) })
		}
		switch {
		case p.time < 0 && has("time", "at", "when", "timestamp", "datetime"):
			p.time, p.utc = i, has("utc", "gmt")
		case p.temp < 0 && has("temperature", "temp"):
			p.temp = i
			switch {
			case has("f", "fahrenheit"):
				p.scale = "F"
			case has("c", "celsius"):
				p.scale = "C"
			}
		}
	}
	if p.time < 0 || p.temp < 0 {
		p.fail(line, "The first line must name the columns, one of them time and one temperature; it says %q.", strings.Join(row, string(',')))
		return false
	}
	return true
}

func (p *logParser) row(line int, row []string) {
	if len(row) == 1 && strings.TrimSpace(row[0]) == "" {
		return
	}
	if max(p.time, p.temp) >= len(row) {
		p.fail(line, "There is no %s here.", map[bool]string{true: "temperature", false: "time"}[p.temp >= len(row)])
		return
	}
	out := logRow{line: line}
	var ok bool
	if out.temp, ok = p.temperature(line, strings.TrimSpace(row[p.temp])); !ok {
		return
	}
	if p.moment(&out, strings.TrimSpace(row[p.time])) {
		p.rows = append(p.rows, out)
	}
}

func (p *logParser) temperature(line int, text string) (unit.Temp, bool) {
	if text == "" {
		p.fail(line, "There is no temperature here. Leave the line out: a missing reading is shown as a gap.")
		return 0, false
	}
	if strings.ContainsRune(text, ',') {
		p.fail(line, "%q has a comma: write a point before the decimal.", text)
		return 0, false
	}
	typed := text
	if last := text[len(text)-1]; last >= '0' && last <= '9' || last == '.' {
		if p.scale == "" {
			p.fail(line, "%q has no scale: write 38.5 F or 3.6 C, or name the column temperature (F).", text)
			return 0, false
		}
		text += " " + p.scale
	}
	t, err := unit.ParseTemp(text)
	if err != nil {
		p.fail(line, "%q is not a temperature such as 38.5 F or 3.6 C.", typed)
		return 0, false
	}
	return t, true
}

const wallLayout = "2006-01-02 15:04:05"

// moment reads a time with or without its zone.
func (p *logParser) moment(row *logRow, text string) bool {
	typed, zone := text, ""
	if len(text) > 10 && (text[10] == 'T' || text[10] == 't') {
		text = text[:10] + " " + text[11:]
	}
	if len(text) > 16 {
		if i := strings.IndexFunc(text[16:], func(r rune) bool { return !(r >= '0' && r <= '9' || r == ':' || r == '.') }); i >= 0 {
			text, zone = strings.TrimSpace(text[:16+i]), strings.TrimSpace(text[16+i:])
		}
	}
	if i := strings.IndexByte(text, '.'); i > 0 {
		text = text[:i]
	}
	if len(text) == 16 {
		text += ":00"
	}
	wall, err := time.Parse(wallLayout, text)
	if err != nil {
		p.fail(row.line, "%q is not a time such as 2026-11-08 02:15, with -06:00 or Z behind it where the file is not on the shop's clocks.", typed)
		return false
	}
	if zone == "" && p.utc {
		zone = "Z"
	}
	var offset time.Duration
	switch {
	case zone == "":
		return p.onClock(row, wall)
	case strings.EqualFold(zone, "Z"), strings.EqualFold(zone, "UTC"), strings.EqualFold(zone, "GMT"):
	default:
		z, err := time.Parse("-07:00", zone)
		if err != nil {
			z, err = time.Parse("-0700", zone)
		}
		if err != nil {
			return p.named(row, wall, zone)
		}
		_, sec := z.Zone()
		offset = time.Duration(sec) * time.Second
	}
	row.at = unit.InstantOf(wall.Add(-offset))
	return true
}

// onClock reads a time on the shop's clocks.
func (p *logParser) onClock(row *logRow, wall time.Time) bool {
	row.wall, row.may = wall.Format(wallLayout), showing(wall, p.loc)
	switch len(row.may) {
	case 0:
		p.fail(row.line, "%s did not happen: the clocks went forward over it. Write the zone behind the times, such as -06:00.", row.wall[:16])
		return false
	case 1:
		row.at = row.may[0]
	}
	return true
}

// named reads a time with the short name of one of the shop's own zones behind it.
func (p *logParser) named(row *logRow, wall time.Time, zone string) bool {
	for _, at := range showing(wall, p.loc) {
		if name, _ := at.In(p.loc).Zone(); strings.EqualFold(name, zone) {
			row.at = at
			return true
		}
	}
	p.fail(row.line, "%q is not a zone that %s had here: write -06:00 or Z behind the time.", zone, wall.Format(wallLayout)[:16])
	return false
}

// showing are the moments at which clocks of loc show a time: one on most days, two in the
// hour that comes twice, none in the hour left out.
func showing(wall time.Time, loc *time.Location) []unit.Instant {
	var out []unit.Instant
	for _, near := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, offset := wall.Add(near).In(loc).Zone()
		at := wall.Add(-time.Duration(offset) * time.Second)
		if _, o := at.In(loc).Zone(); o == offset && !slices.Contains(out, unit.InstantOf(at)) {
			out = append(out, unit.InstantOf(at))
		}
	}
	slices.Sort(out)
	return out
}

// placeOnClock tells the two passes of an hour that comes twice apart by the order of the
// lines, whichever end of the file is the newer.
func (p *logParser) placeOnClock() {
	var plain []unit.Instant
	for _, r := range p.rows {
		if r.at != 0 {
			plain = append(plain, r.at)
		}
	}
	order := make([]*logRow, len(p.rows))
	back := len(plain) > 1 && plain[0] > plain[len(plain)-1]
	for i := range p.rows {
		order[i] = &p.rows[i]
	}
	if back {
		slices.Reverse(order)
	}
	for i := 0; i < len(order); {
		if len(order[i].may) < 2 {
			i++
			continue
		}
		from, pass, steps := i, 0, 0
		for ; i < len(order) && len(order[i].may) == 2; i++ {
			if i > from && order[i].wall < order[i-1].wall {
				pass, steps = 1, steps+1
			}
			order[i].at = order[i].may[pass]
		}
		if steps == 1 {
			continue
		}
		for _, r := range order[from:i] {
			p.fail(r.line, "%s came twice, since the clocks went back, and the file does not say which is meant: write the zone behind it, such as %s or %s.",
				r.wall[:16], r.may[0].In(p.loc).Format("-07:00"), r.may[1].In(p.loc).Format("-07:00"))
		}
	}
}

// readings are the lines in order of time. The same reading twice is one.
func (p *logParser) readings() ([]LogLine, []LineError) {
	slices.SortStableFunc(p.rows, func(a, b logRow) int { return cmp.Compare(a.at, b.at) })
	var out []LogLine
	for _, r := range p.rows {
		if n := len(out); n > 0 && out[n-1].At == r.at {
			if out[n-1].Temp != r.temp {
				p.fail(r.line, "line %d says %s for the same moment, this line %s.", out[n-1].Line, out[n-1].Temp.Show(), r.temp.Show())
			}
			continue
		}
		out = append(out, LogLine{r.line, Reading{At: r.at, Temp: r.temp}})
	}
	if len(p.wrong) > 0 {
		return nil, p.wrong
	}
	return out, nil
}
