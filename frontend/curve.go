package frontend

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// Curve is a load's temperatures drawn: the house dashed, cores and the chill drawn
// through, and a gap where nobody read for more than an hour. Everything it shows stands
// in the table beside it.
type Curve struct {
	Width, Height int
	Label         string
	Lines         []CurveLine
	Dots          []CurveDot
	Gaps          []PictureBox
	Grid          []PictureLine
	Words         []PictureWord
}

// CurveLine is a run of readings without a gap; Class is air, core or chill.
type CurveLine struct{ Points, Class string }

// CurveDot is one reading.
type CurveDot struct {
	X, Y  int
	Class string
}

const (
	curveLeft, curveTop  = 44, 14
	curveWide, curveHigh = 640, 240
	curveGap             = time.Hour
)

type reading struct {
	at   unit.Instant
	temp unit.Temp
}

// curve draws a log; nothing when there is nothing to draw.
func curve(log *store.LoadLog, loc *time.Location) Curve {
	series := map[string][]reading{}
	var names []string
	add := func(name string, l store.LogLine, t *unit.Temp) {
		if t == nil {
			return
		}
		if series[name] == nil {
			names = append(names, name)
		}
		rs := series[name]
		// Slabs leave the smoke one after the other, and the warmest counts.
		if n := len(rs); n > 0 && rs[n-1].at == l.At {
			rs[n-1].temp = max(rs[n-1].temp, *t)
			return
		}
		series[name] = append(rs, reading{l.At, *t})
	}
	var from, to unit.Instant
	low, high := 30*unit.Fahrenheit, 150*unit.Fahrenheit
	for _, l := range log.Lines {
		if l.Struck {
			continue
		}
		if from == 0 {
			from = l.At
		}
		to = max(to, l.At)
		for _, t := range []*unit.Temp{l.House, l.Core} {
			if t != nil {
				low, high = min(low, *t), max(high, *t)
			}
		}
		switch l.Phase {
		case shop.SmokePhase:
			add("air", l, l.House)
			add("core "+l.Tag, l, l.Core)
		default:
			add("air", l, l.House)
			add("chill", l, l.Core)
		}
	}
	c := Curve{Width: curveLeft + curveWide + 12, Height: curveTop + curveHigh + 24}
	if to <= from {
		return Curve{}
	}
	x := func(at unit.Instant) int { return curveLeft + int(int64(at-from)*curveWide/int64(to-from)) }
	y := func(t unit.Temp) int { return curveTop + int(int64(high-t)*curveHigh/int64(high-low)) }
	for t := (low + 1999) / 2000 * 2000; t <= high; t += 2000 {
		c.Grid = append(c.Grid, PictureLine{curveLeft, y(t), curveLeft + curveWide, y(t), "grid"})
		c.Words = append(c.Words, PictureWord{curveLeft - 6, y(t) + 4, "small", "end", fmt.Sprintf("%d°", t/100)})
	}
	step := unit.Instant(3600)
	for (to-from)/step > 14 {
		step *= 2
	}
	for at := from - from%step + step; at < to; at += step {
		c.Grid = append(c.Grid, PictureLine{x(at), curveTop, x(at), curveTop + curveHigh, "grid"})
		c.Words = append(c.Words, PictureWord{x(at), curveTop + curveHigh + 15, "small", "middle", at.Clock(loc)})
	}
	slices.Sort(names)
	gaps := 0
	for _, name := range names {
		class, _, _ := strings.Cut(name, " ")
		var run []string
		rs := series[name]
		for i, r := range rs {
			if i > 0 && r.at.Sub(rs[i-1].at) > curveGap {
				c.Lines = append(c.Lines, CurveLine{strings.Join(run, " "), class})
				run = nil
				if class != "air" || len(names) == 1 {
					gaps++
					c.Gaps = append(c.Gaps, PictureBox{x(rs[i-1].at), curveTop, x(r.at) - x(rs[i-1].at), curveHigh, "shut"})
				}
			}
			run = append(run, fmt.Sprintf("%d,%d", x(r.at), y(r.temp)))
			c.Dots = append(c.Dots, CurveDot{x(r.at), y(r.temp), class})
		}
		c.Lines = append(c.Lines, CurveLine{strings.Join(run, " "), class})
		last := rs[len(rs)-1]
		label := map[string]string{"air": "air", "chill": "warmest point"}[class]
		if label == "" {
			label = strings.TrimSpace("core " + strings.TrimPrefix(name, "core "))
		}
		anchor, dx := "start", 4
		if x(last.at) > curveLeft+curveWide-90 {
			anchor, dx = "end", -4
		}
		c.Words = append(c.Words, PictureWord{x(last.at) + dx, y(last.temp) - 5, "code", anchor, label})
	}
	c.Label = fmt.Sprintf("Temperatures of the load from %s to %s. ", from.Show(loc), to.Show(loc))
	if gaps > 0 {
		c.Label += fmt.Sprintf("Nobody read for more than an hour %d times. ", gaps)
	}
	c.Label += "The table below has every line."
	return c
}
