package frontend

import (
	"strings"
	"testing"
	"time"

	"flitchbook/api/store"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// On Sun 2026-11-01 clocks in Chicago go from 02:00 CDT back to 01:00 CST (tz database):
// the day has twenty-five hours, and the one that comes twice says each time which it is.
func TestRoomLogOfTheLongDay(t *testing.T) {
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	d := unit.DayOf(2026, 11, 1)
	l := &store.RoomLog{Day: d, Days: 1, From: d.At(0, 0, loc), To: (d + 1).At(0, 0, loc), Rule: heat.HouseCold(), Cures: true}
	l.Seen = l.To
	for at := l.From; at < l.To; at += 900 {
		if at >= l.From+10*3600 && at < l.From+12*3600 {
			continue
		}
		l.Readings = append(l.Readings, heat.Reading{At: at, Temp: 3800})
	}
	l.Gaps = []store.RoomGap{{Gap: heat.Gap{From: l.From + 10*3600 - 900, To: l.From + 12*3600}}}
	rows := roomRows(l, loc)
	var labels []string
	for _, r := range rows {
		labels = append(labels, r.Label)
	}
	if got := strings.Join(labels[:4], " | "); len(rows) != 25 || got != "00:00 | 01:00 CDT | 01:00 CST | 02:00" || labels[24] != "23:00" {
		t.Errorf("%d rows: %s … %s", len(rows), got, labels[len(labels)-1])
	}
	if r := rows[1]; r.Count != 4 || r.Low != "38.0 °F" {
		t.Errorf("the first pass: %+v", r)
	}
	if r := rows[10]; r.Label != "09:00" || r.Count != 0 || strings.Join(r.Marks, ";") != "gap: owner asked" {
		t.Errorf("the gap: %+v", r)
	}
	p := drawRoom(l, loc)
	if len(p.Paths) != 2 {
		t.Errorf("%d lines drawn; a gap is not bridged", len(p.Paths))
	}
	var zones []string
	for _, w := range p.Words {
		if w.Text == "CDT" || w.Text == "CST" {
			zones = append(zones, w.Text)
		}
		if w.X < 0 || w.X > p.Width || w.Y < 0 || w.Y > p.Height {
			t.Errorf("%q stands outside the picture", w.Text)
		}
	}
	if strings.Join(zones, " ") != "CDT CST" {
		t.Errorf("zones %v", zones)
	}
}
