package frontend

import (
	"fmt"
	"strings"
	"time"

	"flitchbook/api/store"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// RoomPicture is a room's log drawn: hours from left to right, degrees upward. A stretch
// without readings stays empty and hatched, never bridged. Everything it shows stands in
// the table under it.
type RoomPicture struct {
	Width, Height int
	Label         string
	Boxes         []PictureBox
	Lines         []PictureLine
	Words         []PictureWord
	Paths         []string // of readings that follow one another
	Dots          []PictureDot
}

// PictureDot is a reading that stands alone.
type PictureDot struct{ X, Y int }

const (
	roomLeft  = 44
	roomTop   = 44
	roomHigh  = 220
	roomWidth = 34 * 25 // a day of twenty-five hours, an hour 34 wide
)

type roomScale struct {
	l        *store.RoomLog
	loc      *time.Location
	low, top unit.Temp
}

func (s roomScale) x(at unit.Instant) int {
	at = min(max(at, s.l.From), s.l.To)
	return roomLeft + int(int64(at-s.l.From)*roomWidth/int64(s.l.To-s.l.From))
}

func (s roomScale) y(t unit.Temp) int {
	return roomTop + roomHigh - int((t-s.low)*roomHigh/(s.top-s.low))
}

// drawRoom draws a log.
func drawRoom(l *store.RoomLog, loc *time.Location) RoomPicture {
	p := RoomPicture{Width: roomLeft + roomWidth + 14, Height: roomTop + roomHigh + 46}
	s := roomScale{l: l, loc: loc, low: 32 * unit.Fahrenheit, top: 45 * unit.Fahrenheit}
	for _, r := range l.Readings {
		s.low, s.top = min(s.low, r.Temp-100), max(s.top, r.Temp+100)
	}
	p.clock(s)
	p.limit(s, l.Rule.Warm, "41 °F")
	if l.Cures {
		p.limit(s, l.Rule.Stall, "34 °F")
	}
	p.gaps(s)
	p.readings(s)
	p.holds(s)
	p.Label = roomWords(l, loc)
	return p
}

func (p *RoomPicture) word(x, y int, class, anchor, text string) {
	p.Words = append(p.Words, PictureWord{x, y, class, anchor, text})
}

// clock draws the hours. In the night the clocks go back an hour comes twice: both are
// drawn, and both say which they are.
func (p *RoomPicture) clock(s roomScale) {
	base := roomTop + roomHigh
	every := 2
	switch {
	case s.l.Days > 4:
		every = 24
	case s.l.Days > 1:
		every = 6
	}
	for _, h := range hours(s.l.From, s.l.To, s.loc) {
		x, t := s.x(h.at), h.at.In(s.loc)
		if t.Hour() == 0 {
			p.Lines = append(p.Lines, PictureLine{x, roomTop - 4, x, base, "grid"})
			if s.l.Days <= 10 || t.Weekday() == time.Monday {
				p.word(x+2, base+42, "name", "start", h.at.Day(s.loc).Show())
			}
		}
		if !h.twice && t.Hour()%every != 0 || h.twice && s.l.Days > 1 {
			continue
		}
		p.Lines = append(p.Lines, PictureLine{x, base, x, base + 5, "cap solid"})
		if every < 24 {
			p.word(x, base+16, "small", "middle", t.Format("15:04"))
		}
		if h.twice {
			p.word(x, base+28, "small", "middle", t.Format("MST"))
		}
	}
	p.Lines = append(p.Lines, PictureLine{roomLeft, base, roomLeft + roomWidth, base, "grid"})
}

func (p *RoomPicture) limit(s roomScale, t unit.Temp, name string) {
	y := s.y(t)
	p.Lines = append(p.Lines, PictureLine{roomLeft, y, roomLeft + roomWidth, y, "cap"})
	p.word(roomLeft-4, y+4, "small", "end", name)
}

func (p *RoomPicture) gaps(s roomScale) {
	for _, g := range s.l.Gaps {
		a, b := s.x(g.From), s.x(g.To)
		p.Boxes = append(p.Boxes, PictureBox{a, roomTop, max(b-a, 2), roomHigh, "shut"})
		text := "no readings, owner asked"
		if len(g.Said) > 0 {
			text = "no readings, explained"
		}
		p.word((a+b)/2, roomTop+roomHigh-8, "bad", "middle", text)
	}
}

// readings draws a line through readings that follow one another within the hour.
func (p *RoomPicture) readings(s roomScale) {
	var path []string
	flush := func() {
		if len(path) > 1 {
			p.Paths = append(p.Paths, strings.Join(path, " "))
		}
		path = nil
	}
	var last unit.Instant
	for i, r := range s.l.Readings {
		if last != 0 && r.At.Sub(last) > s.l.Rule.Gap {
			flush()
		}
		alone := (i == 0 || r.At.Sub(last) > s.l.Rule.Gap) && (i+1 == len(s.l.Readings) || s.l.Readings[i+1].At.Sub(r.At) > s.l.Rule.Gap)
		if alone {
			p.Dots = append(p.Dots, PictureDot{s.x(r.At), s.y(r.Temp)})
		}
		path = append(path, fmt.Sprintf("%d,%d", s.x(r.At), s.y(r.Temp)))
		last = r.At
	}
	flush()
}

// holds marks when a hold began, how long it stood and when it was decided.
func (p *RoomPicture) holds(s roomScale) {
	var words row
	mark := func(at unit.Instant, text string) {
		if at < s.l.From || at >= s.l.To {
			return
		}
		x := s.x(at)
		p.Lines = append(p.Lines, PictureLine{x, roomTop - 6, x, roomTop + roomHigh, "mark"})
		wide := 7 * len(text)
		anchor, mid := "start", x+wide/2
		if x+wide > roomLeft+roomWidth {
			anchor, mid = "end", x-wide/2
		}
		p.word(x, roomTop-10-13*(words.line(mid, wide)%3), "bad", anchor, text)
	}
	for _, h := range s.l.Holds {
		end := h.ClosedAt
		if end == 0 {
			end = s.l.Seen
		}
		if a, b := s.x(h.OpenedAt), s.x(end); b > a {
			p.Boxes = append(p.Boxes, PictureBox{a, roomTop + roomHigh - 5, b - a, 5, "own"})
		}
		mark(h.OpenedAt, "hold "+h.OpenedAt.Clock(s.loc))
		for _, d := range h.Decided {
			mark(d.At, fmt.Sprintf("%s %s, %s", d.What, d.At.Clock(s.loc), d.Actor))
		}
	}
}

// roomWords is the picture in a few sentences.
func roomWords(l *store.RoomLog, loc *time.Location) string {
	text := fmt.Sprintf("%s from %s to %s: %s.", l.Room.Name, l.From.Show(loc), l.To.Show(loc), plural(len(l.Readings), "reading", "readings"))
	if len(l.Runs) > 0 {
		text += " " + plural(len(l.Runs), "run above 41 °F.", "runs above 41 °F.")
	}
	if len(l.Gaps) > 0 {
		text += " " + plural(len(l.Gaps), "gap.", "gaps.")
	}
	if len(l.Holds) > 0 {
		text += " " + plural(len(l.Holds), "hold.", "holds.")
	}
	return text + " The table below says the same in numbers."
}

// An hour is the beginning of an hour of elapsed time; twice says that the clocks show it
// two times that day.
type hour struct {
	at    unit.Instant
	twice bool
}

// hours lists the full hours of a span. Zones whose clocks are not whole hours from UTC
// begin theirs on their own full hour.
func hours(from, to unit.Instant, loc *time.Location) []hour {
	var out []hour
	for at := from; at < to; at += 3600 {
		wall := at.In(loc).Format("2006-01-02 15")
		out = append(out, hour{at, wall == (at+3600).In(loc).Format("2006-01-02 15") || wall == (at-3600).In(loc).Format("2006-01-02 15")})
	}
	return out
}

// RoomRow is one line of the table under the picture: an hour, or a day of a long span.
type RoomRow struct {
	Label    string
	Readings string // each of them, of an hour
	Low      string
	High     string
	Count    int
	Marks    []string
}

// roomRows writes a log as a table.
func roomRows(l *store.RoomLog, loc *time.Location) []RoomRow {
	var out []RoomRow
	long := l.Days > 2
	type span struct {
		from, to unit.Instant
		label    string
	}
	var spans []span
	if long {
		for d := l.Day; d < l.Day+unit.Day(l.Days); d++ {
			spans = append(spans, span{d.At(0, 0, loc), (d + 1).At(0, 0, loc), d.Show()})
		}
	} else {
		for _, h := range hours(l.From, l.To, loc) {
			label := h.at.Clock(loc)
			if h.twice {
				label = h.at.In(loc).Format("15:04 MST")
			}
			if l.Days > 1 {
				label = h.at.Day(loc).Show() + ", " + label
			}
			spans = append(spans, span{h.at, h.at + 3600, label})
		}
	}
	i := 0
	for _, s := range spans {
		if s.from > l.Seen || s.from == l.Seen {
			break
		}
		r := RoomRow{Label: s.label}
		var low, high unit.Temp
		var all []string
		for ; i < len(l.Readings) && l.Readings[i].At < s.to; i++ {
			t := l.Readings[i].Temp
			if r.Count == 0 || t < low {
				low = t
			}
			if r.Count == 0 || t > high {
				high = t
			}
			r.Count++
			all = append(all, strings.TrimSuffix(t.Show(), " °F"))
		}
		if r.Count > 0 {
			r.Low, r.High = low.Show(), high.Show()
		}
		if !long {
			r.Readings = strings.Join(all, ", ")
		}
		r.Marks = marks(l, s.from, s.to, loc, long)
		out = append(out, r)
	}
	return out
}

// marks are what else is to be said of a stretch of the log.
func marks(l *store.RoomLog, from, to unit.Instant, loc *time.Location, long bool) []string {
	var out []string
	in := func(at unit.Instant) bool { return at >= from && at < to }
	at := func(i unit.Instant) string {
		if long {
			return i.Show(loc)
		}
		return i.Clock(loc)
	}
	for _, r := range l.Runs {
		if r.First < to && r.Last >= from && (!long || in(r.First)) {
			out = append(out, "above 41 °F")
		}
	}
	for _, s := range l.Spells {
		if s.From < to && s.To > from && (!long || in(s.From)) {
			out = append(out, "below 34 °F: the cure stands still")
		}
	}
	for _, g := range l.Gaps {
		if g.From < to && g.To > from && (!long || in(g.From)) {
			text := "gap: owner asked"
			if len(g.Said) > 0 {
				text = "gap"
			}
			out = append(out, text)
		}
	}
	for _, h := range l.Holds {
		if in(h.OpenedAt) {
			out = append(out, "HOLD from "+at(h.OpenedAt))
		}
		for _, d := range h.Decided {
			if in(d.At) {
				out = append(out, fmt.Sprintf("%s %s by %s", d.What, at(d.At), d.Actor))
			}
		}
	}
	return out
}

// runWords says how long a run lasted and what came of it.
func runWords(r heat.Run, loc *time.Location) string {
	text := fmt.Sprintf("%s to %s, %s, warmest %s at %s", r.First.Show(loc), r.Last.Show(loc), elapsed(r.Lasted()), r.Peak.Show(), r.PeakAt.Clock(loc))
	if r.Hold != nil {
		return text + "; broke the limit " + r.Hold.At.Show(loc)
	}
	return text + "; noted, no hold"
}

func elapsed(d time.Duration) string {
	return fmt.Sprintf("%d h %02d min", int(d.Hours()), int(d.Minutes())%60)
}
