package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// LineIn is a line of a load's log as it is typed or sent.
type LineIn struct {
	At    unit.Instant
	House *unit.Temp // air of the smokehouse or the chiller
	Core  *unit.Temp // of the slab; in the chill the warmest point
	Tag   string     // whose probe; may be left out
}

// LogLine is a line as it is read.
type LogLine struct {
	shop.SmokeLine
	Tag    string
	Struck bool // another line stands for it, or it only strikes one out
}

func (in LineIn) check(phase string, now unit.Instant, day unit.Day, s *Store) error {
	var w shop.Wrong
	switch {
	case in.At <= 0:
		w.Add("time", "Say when it was read.")
	case in.At > now.Add(slowClock):
		w.Add("time", "%s lies ahead of the shop's clock.", in.At.Show(s.Loc))
	case in.At < day.At(0, 0, s.Loc) || in.At >= (day+3).At(0, 0, s.Loc):
		w.Add("time", "%s is not of the load of %s.", in.At.Show(s.Loc), day.Show())
	}
	if in.House != nil && (*in.House < -60*unit.Fahrenheit || *in.House > 600*unit.Fahrenheit) {
		w.Add("house", "%s cannot be the air of a smokehouse or a chiller.", in.House.Show())
	}
	if in.Core != nil && (*in.Core < 20*unit.Fahrenheit || *in.Core > 250*unit.Fahrenheit) {
		w.Add("core", "%s cannot be the core of a slab. Read the thermometer again.", in.Core.Show())
	}
	switch {
	case phase == shop.ChillPhase && in.Core == nil:
		w.Add("core", "Say how warm the warmest point was.")
	case in.House == nil && in.Core == nil:
		w.Add("house", "Say a temperature: the house's, a core's, or both.")
	}
	return w.Err()
}

// AddLines writes lines into a load's log, all or none. Sending the same again changes
// nothing; another temperature for a moment and probe that stand already is refused: a
// line is corrected, never overwritten.
func (s *Store) AddLines(ctx context.Context, by shop.Actor, day unit.Day, phase string, lines []LineIn) error {
	if len(lines) == 0 || len(lines) > 1000 {
		return shop.Bad("lines", "Send between 1 and 1000 lines at a time.")
	}
	if phase != shop.SmokePhase && phase != shop.ChillPhase {
		return shop.Bad("phase", "A line is of the smoke or of the chill.")
	}
	return s.tx(ctx, func(t tx) error {
		l, err := t.loadOf(day)
		if err != nil {
			return err
		}
		for i, in := range lines {
			if err := in.check(phase, t.now, day, s); err != nil {
				return nth(err, i, len(lines))
			}
			if err := t.addLine(by, l, phase, in); err != nil {
				return nth(err, i, len(lines))
			}
		}
		return nil
	})
}

// nth says which line an error is about, where there are several.
func nth(err error, i, of int) error {
	e, ok := shop.AsError(err)
	if !ok || of == 1 {
		return err
	}
	out := *e
	out.Text = fmt.Sprintf("Line %d: %s", i+1, e.Text)
	out.Fields = map[string]string{}
	for k, v := range e.Fields {
		out.Fields[k] = fmt.Sprintf("Line %d: %s", i+1, v)
	}
	return &out
}

// loadOf takes a day's load for the rest of the transaction.
func (t tx) loadOf(day unit.Day) (*shop.SmokeLoad, error) {
	l, err := take[shop.SmokeLoad](t.DB, "A load of "+day.Show(), "day = ?", day)
	if err != nil {
		return nil, err
	}
	return l, t.lock("smoke_loads", int64(l.ID))
}

func (t tx) addLine(by shop.Actor, l *shop.SmokeLoad, phase string, in LineIn) error {
	row, err := t.lineRow(by, l, phase, in)
	if err != nil {
		return err
	}
	same, err := many[shop.SmokeLine](t.DB, "id", "load_id = ? AND phase = ? AND at = ? AND slab_id = ? AND id NOT IN (SELECT corrects FROM smoke_lines WHERE load_id = ?)", l.ID, phase, in.At, row.SlabID, l.ID)
	if err != nil {
		return err
	}
	for _, old := range same {
		if old.House == nil && old.Core == nil {
			continue // it only strikes another out
		}
		if equalTemp(old.House, in.House) && equalTemp(old.Core, in.Core) {
			return nil
		}
		return shop.Stop("line_kept", "The line of %s stands already with other temperatures; correct that line, it is never overwritten.", in.At.Show(t.s.Loc))
	}
	return t.Create(row).Error
}

func (t tx) lineRow(by shop.Actor, l *shop.SmokeLoad, phase string, in LineIn) (*shop.SmokeLine, error) {
	row := &shop.SmokeLine{LoadID: l.ID, Phase: phase, At: in.At, House: in.House, Core: in.Core, Actor: by.Name, ReceivedAt: t.now}
	if trim(in.Tag) == "" {
		return row, nil
	}
	sl, err := t.slabByTag(in.Tag)
	if err != nil {
		return nil, &shop.Error{Kind: shop.Invalid, Code: "tag", Text: "That tag is not of this load.", Fields: map[string]string{"tag": "There is no slab " + strings.ToUpper(trim(in.Tag)) + "."}}
	}
	var n int64
	if err := t.Model(&shop.LoadSlab{}).Where("load_id = ? AND slab_id = ?", l.ID, sl.ID).Count(&n).Error; err != nil {
		return nil, err
	}
	if n == 0 {
		return nil, &shop.Error{Kind: shop.Invalid, Code: "tag", Text: "That tag is not of this load.", Fields: map[string]string{"tag": sl.Tag + " is not in the load of " + l.Day.Show() + "."}}
	}
	row.SlabID = sl.ID
	return row, nil
}

func equalTemp(a, b *unit.Temp) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

// CorrectLine strikes a line of a load's log out and puts another in its place; without a
// temperature it is only struck out. The old line stays to be read, with who corrected it
// and why.
func (s *Store) CorrectLine(ctx context.Context, by shop.Actor, day unit.Day, id shop.LineID, in LineIn, reason string) error {
	if trim(reason) == "" {
		var w shop.Wrong
		w.Add("reason", "Say what was wrong with it; both lines stay in the record.")
		return w.Err()
	}
	return s.tx(ctx, func(t tx) error {
		l, err := t.loadOf(day)
		if err != nil {
			return err
		}
		old, err := take[shop.SmokeLine](t.DB, "That line", "id = ? AND load_id = ?", id, l.ID)
		if err != nil {
			return err
		}
		if old.House == nil && old.Core == nil {
			return shop.Stop("struck", "That line only strikes another out; write a new one.")
		}
		if in.At == 0 {
			in.At = old.At
		}
		if trim(in.Tag) == "" && old.SlabID != 0 && old.Phase == shop.OutPhase {
			if err := t.Model(&shop.Slab{}).Where("id = ?", old.SlabID).Select("tag").Scan(&in.Tag).Error; err != nil {
				return err
			}
		}
		if in.House != nil || in.Core != nil {
			if err := in.check(old.Phase, t.now, day, s); err != nil {
				return err
			}
		}
		row, err := t.lineRow(by, l, old.Phase, in)
		if err != nil {
			return err
		}
		row.Corrects, row.Reason = old.ID, trim(reason)
		if err := t.Create(row).Error; err != nil {
			if isDuplicate(err) {
				return shop.Stop("struck", "That line is corrected already; correct the one that stands for it.")
			}
			return err
		}
		return nil
	})
}

// SetWood notes what a load was smoked over.
func (s *Store) SetWood(ctx context.Context, by shop.Actor, day unit.Day, wood string) error {
	wood = trim(wood)
	if wood == "" || len(wood) > 80 {
		var w shop.Wrong
		w.Add("wood", "Name the wood in up to 80 letters.")
		return w.Err()
	}
	return s.tx(ctx, func(t tx) error {
		l, err := t.loadOf(day)
		if err != nil || l.Wood == wood {
			return err
		}
		if err := t.Model(&shop.SmokeLoad{}).Where("id = ?", l.ID).Update("wood", wood).Error; err != nil {
			return err
		}
		return t.note(by, "load", int64(day), "wood", l.Wood, wood, "")
	})
}

// readLog reads a load's lines in order of time, the struck ones among them.
func readLog(db *gorm.DB, id shop.LoadID) ([]LogLine, error) {
	var rows []LogLine
	err := db.Raw(`SELECT smoke_lines.*, coalesce(slabs.tag, '') AS tag FROM smoke_lines LEFT JOIN slabs ON slabs.id = smoke_lines.slab_id
		WHERE smoke_lines.load_id = ? ORDER BY smoke_lines.at, smoke_lines.id`, id).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	for i := range rows {
		r := &rows[i]
		r.Struck = r.House == nil && r.Core == nil || slices.ContainsFunc(rows, func(x LogLine) bool { return x.Corrects == r.ID })
	}
	return rows, nil
}
