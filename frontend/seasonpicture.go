package frontend

import (
	"fmt"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// SeasonPicture is the season drawn: days from left to right, and under one another the
// classes, the rack, the hooks, the shelf and the kill days. Everything it shows stands in
// the table beside it; what breaks is written out and hatched, not only coloured.
type SeasonPicture struct {
	Width, Height int
	Label         string
	Boxes         []PictureBox
	Lines         []PictureLine
	Words         []PictureWord
}

// PictureBox is a filled rectangle; Class is one of use, over, own, row, shut.
type PictureBox struct {
	X, Y, W, H int
	Class      string
}

// PictureLine is a line; Class is grid or cap.
type PictureLine struct {
	X1, Y1, X2, Y2 int
	Class          string
}

// PictureWord is a text; Anchor is start, middle or end.
type PictureWord struct {
	X, Y          int
	Class, Anchor string
	Text          string
}

const (
	pictureLeft = 96 // room for the names of the bands
	pictureDay  = 9  // width of a day
)

// picture draws a sketch.
func picture(s *store.SeasonSketch, p *SeasonPicture) {
	days := int(s.To-s.From) + 1
	p.Width = pictureLeft + days*pictureDay + 8
	y := 18
	for _, w := range s.Weeks {
		p.word(p.at(s, w.Monday), 12, "small", "start", w.Monday.Show()[4:])
	}
	y = p.classes(s, y)
	rack, shelf := map[unit.Day]int{}, map[unit.Day]int{}
	for _, d := range s.Days {
		rack[d.Day], shelf[d.Day] = d.Rack, d.Shelf
	}
	y = p.band(s, y, "Rack", s.Rules.Places, rack)
	y = p.hooks(s, y)
	if s.Rules.Shelf > 0 {
		y = p.band(s, y, "Shelf", s.Rules.Shelf, shelf)
	}
	y = p.kills(s, y)
	for _, w := range s.Weeks {
		x := p.at(s, w.Monday)
		p.Lines = append(p.Lines, PictureLine{x, 16, x, y, "grid"})
		for _, c := range w.Closed {
			p.Boxes = append(p.Boxes, PictureBox{p.at(s, c.Day), 16, pictureDay, y - 16, "shut"})
		}
	}
	p.Height = y + 6
	p.Label = fmt.Sprintf("The season from %s to %s, with every seat sold. ", s.From.Show(), s.To.Show())
	if len(s.Breaks) == 0 {
		p.Label += "Nothing breaks."
	} else {
		p.Label += fmt.Sprintf("It first breaks on %s.", s.Breaks[0].Text)
	}
	p.Label += " The table below says the same in numbers."
}

func (p *SeasonPicture) at(s *store.SeasonSketch, d unit.Day) int {
	return pictureLeft + int(d-s.From)*pictureDay
}

func (p *SeasonPicture) word(x, y int, class, anchor, text string) {
	p.Words = append(p.Words, PictureWord{x, y, class, anchor, text})
}

// A row keeps words beside one another from overlapping: each goes to the first line
// that is free at its place.
type row []int // per line, the x where its last word ends

func (r *row) line(x, width int) int {
	for i, end := range *r {
		if end <= x-width/2 {
			(*r)[i] = x + width/2
			return i
		}
	}
	*r = append(*r, x+width/2)
	return len(*r) - 1
}

// sketchCode is a class's code as the sketch writes it: "B9?" while it is only sketched,
// "" once it is called off.
func sketchCode(c store.SeasonClass) string {
	switch c.State {
	case shop.ClassOff:
		return ""
	case shop.Sketched:
		return c.Code + "?"
	}
	return c.Code
}

func codesOf(classes []store.SeasonClass) []string {
	var out []string
	for _, c := range classes {
		if text := sketchCode(c); text != "" {
			out = append(out, text)
		}
	}
	return out
}

// classes writes the codes above their days, sketched ones with a question mark.
func (p *SeasonPicture) classes(s *store.SeasonSketch, y int) int {
	p.word(4, y+14, "name", "start", "Classes")
	var lines row
	for _, w := range s.Weeks {
		for _, c := range w.Classes {
			text := sketchCode(c)
			if text == "" {
				continue
			}
			x := p.at(s, c.Day) + pictureDay/2
			p.word(x, y+14+13*lines.line(x, 8*len(text)), "code", "middle", text)
		}
	}
	return y + 8 + 13*max(len(lines), 1) + 8
}

// band draws one room day by day against what it holds.
func (p *SeasonPicture) band(s *store.SeasonSketch, y int, name string, most int, used map[unit.Day]int) int {
	const high = 72
	top := most
	for _, n := range used {
		top = max(top, n)
	}
	scale := func(n int) int { return n * high / max(top, 1) }
	base := y + 14 + high
	p.word(4, base-high/2, "name", "start", name)
	p.word(4, base-high/2+14, "small", "start", fmt.Sprintf("%d places", most))
	was := 0
	var free int // where the last number written ends
	for d := s.From; d <= s.To; d++ {
		n := used[d]
		x := p.at(s, d)
		if n > 0 {
			p.Boxes = append(p.Boxes, PictureBox{x, base - scale(min(n, most)), pictureDay, scale(min(n, most)), "use"})
		}
		if n > most {
			p.Boxes = append(p.Boxes, PictureBox{x, base - scale(n), pictureDay, scale(n) - scale(most), "over"})
			if n != was && x >= free {
				p.word(x, base-scale(n)-3, "bad", "start", fmt.Sprintf("%d of %d", n, most))
				free = x + 56
			}
		}
		was = n
	}
	p.Lines = append(p.Lines, PictureLine{pictureLeft, base - scale(most), p.Width - 8, base - scale(most), "cap"}, PictureLine{pictureLeft, base, p.Width - 8, base, "grid"})
	return base + 10
}

// hooks draws the smoke days: the shop's own bacon below, classes on it.
func (p *SeasonPicture) hooks(s *store.SeasonSketch, y int) int {
	const high = 60
	base := y + 14 + high
	most := max(s.Rules.Hooks, 1)
	p.word(4, base-high/2, "name", "start", "Hooks")
	p.word(4, base-high/2+14, "small", "start", fmt.Sprintf("%d, own dark", s.Rules.Hooks))
	for _, l := range s.Loads {
		x := p.at(s, l.Smoke)
		own, used := l.Own*high/most, l.Used*high/most
		p.Boxes = append(p.Boxes, PictureBox{x, base - own, pictureDay, own, "own"}, PictureBox{x, base - own - used, pictureDay, used, "use"})
		if l.Used > 0 {
			p.word(x+pictureDay/2, base-own-used-3, "small", "middle", fmt.Sprint(l.Used))
		}
	}
	p.Lines = append(p.Lines, PictureLine{pictureLeft, base - high, p.Width - 8, base - high, "cap"}, PictureLine{pictureLeft, base, p.Width - 8, base, "grid"})
	for _, b := range s.Breaks {
		if b.What == "hooks" || b.What == "bottom row" || b.What == "resting" {
			p.word(p.at(s, b.Day), base-high-3, "bad", "middle", fmt.Sprintf("%d of %d", b.Have, b.Cap))
		}
	}
	return base + 10
}

// kills writes the slots in use on each kill day and hatches the closed floor.
func (p *SeasonPicture) kills(s *store.SeasonSketch, y int) int {
	p.word(4, y+22, "name", "start", "Kill days")
	said := map[unit.Day]bool{}
	var lines row
	for _, w := range s.Weeks {
		for _, f := range w.Floor {
			from, to := max(f.FromDay, w.Monday), min(f.ToDay, w.Monday+6)
			p.Boxes = append(p.Boxes, PictureBox{p.at(s, from), y + 4, int(to-from+1) * pictureDay, 28, "shut"})
			if !said[f.FromDay] {
				said[f.FromDay] = true
				p.word(p.at(s, from)+2, y+44, "small", "start", "no kill")
			}
		}
		for _, k := range w.Kills {
			text, class := fmt.Sprintf("%d/%d %s", k.Taken, k.Capacity, k.Species), "small"
			if k.Taken >= k.Capacity {
				text, class = "full", "bad"
			}
			x := p.at(s, k.Day) + pictureDay/2
			p.word(x, y+14+13*lines.line(x, 6*len(text)), class, "middle", text)
		}
	}
	return y + max(50, 20+13*len(lines))
}

// hookWords is a smoke day in words: "Fri Nov 6: 16 of 16, own 8".
func hookWords(loads []season.SmokeDay) []string {
	var out []string
	for _, l := range loads {
		if l.Used == 0 {
			continue
		}
		text := fmt.Sprintf("%s: %d of %d", l.Smoke.Show(), l.Used, l.Hooks)
		if l.Own > 0 {
			text += fmt.Sprintf(" (own bacon %d)", l.Own)
		}
		if l.Bottom > 0 {
			text += fmt.Sprintf(", bottom row %d of %d", l.Bottom, l.Row)
		}
		out = append(out, text)
	}
	return out
}

func killWords(kills []store.SeasonKill) string {
	var out []string
	for _, k := range kills {
		out = append(out, fmt.Sprintf("%s %s %d of %d", k.Day.Show(), k.Species, k.Taken, k.Capacity))
	}
	return strings.Join(out, "; ")
}

// runs folds breaks of one thing on days that follow one another: "Sat Nov 21 to Mon
// Nov 30: rack 44 of 36".
func runs(breaks []season.Break) []string {
	var out []string
	for i := 0; i < len(breaks); i++ {
		b, last := breaks[i], breaks[i].Day
		for i+1 < len(breaks) && b.What == "rack" && breaks[i+1].What == b.What && breaks[i+1].Have == b.Have && breaks[i+1].Day == last+1 {
			i++
			last = breaks[i].Day
		}
		text := b.Text
		if last > b.Day {
			text = b.Day.Show() + " to " + last.Show() + strings.TrimPrefix(text, b.Day.Show())
		}
		out = append(out, text)
	}
	return out
}
