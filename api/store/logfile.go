package store

import (
	"context"
	"errors"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// LogFile is what came of a thermometer's file.
type LogFile struct {
	Read   int           // readings in the file
	New    int           // of them not stored before
	From   unit.Instant  // of the first
	To     unit.Instant  // of the last
	Opened []shop.HoldID // holds the new ones opened
}

// longestFile is the most readings of one file: a year of quarters of an hour.
const longestFile = 40_000

// ImportReadings stores a thermometer's file (planner/heat.ParseLog says how it looks) all
// at once or not at all. The same file again changes nothing. A file that says something
// else than what is stored is refused with the lines that do: nothing is overwritten.
func (s *Store) ImportReadings(ctx context.Context, by shop.Actor, room, file string) (*LogFile, error) {
	lines, wrong := heat.ParseLog(file, s.Loc)
	if len(lines) > longestFile {
		wrong = []heat.LineError{{Text: fmt.Sprintf("This file has %d readings; send at most %d at a time.", len(lines), longestFile)}}
	}
	for _, l := range lines {
		switch {
		case l.At <= 0 || l.At > s.Now().Add(slowClock):
			wrong = append(wrong, heat.LineError{Line: l.Line, Text: l.At.Show(s.Loc) + " lies ahead of the shop's clock."})
		case !roomTemp(l.Temp):
			wrong = append(wrong, heat.LineError{Line: l.Line, Text: l.Temp.Show() + " cannot be the temperature of a room."})
		}
	}
	if len(wrong) > 0 {
		return nil, fileError("bad_file", "", wrong)
	}
	out := &LogFile{Read: len(lines), From: lines[0].At, To: lines[len(lines)-1].At}
	err := s.tx(ctx, func(t tx) error {
		rm, err := t.lockRoom(room)
		if err != nil {
			return err
		}
		in := make([]heat.Reading, len(lines))
		for i, l := range lines {
			in[i] = l.Reading
		}
		if clashes, err := t.clashes(rm, lines); err != nil {
			return err
		} else if len(clashes) > 0 {
			return fileError("reading_kept", "This file says something else than what is stored. A reading is never overwritten; say beside the log what it is worth. ", clashes)
		}
		if out.New, out.Opened, err = t.takeReadings(rm, in); err != nil {
			return err
		}
		if out.New == 0 {
			return nil
		}
		return t.note(by, "room", int64(rm.ID), "readings from a file", "", fmt.Sprintf("%s to %s", out.From, out.To), fmt.Sprintf("%d of %d new", out.New, out.Read))
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// clashes are the lines that say something else than what is stored.
func (t tx) clashes(rm *shop.Room, lines []heat.LogLine) ([]heat.LineError, error) {
	have, err := roomLog(t.DB, rm.ID, lines[0].At, lines[len(lines)-1].At)
	if err != nil {
		return nil, err
	}
	kept := make(map[unit.Instant]unit.Temp, len(have))
	for _, r := range have {
		kept[r.At] = r.Temp
	}
	var out []heat.LineError
	for _, l := range lines {
		if was, ok := kept[l.At]; ok && was != l.Temp {
			out = append(out, heat.LineError{Line: l.Line, Text: fmt.Sprintf("%s is stored as %s, the file says %s.", l.At.Show(t.s.Loc), was, l.Temp)})
		}
	}
	return out, nil
}

// mostLines is how many wrong lines one answer names.
const mostLines = 20

// fileError names every wrong line of a file under "file".
func fileError(code, before string, wrong []heat.LineError) error {
	text := before
	for i, w := range wrong {
		if i == mostLines {
			text += fmt.Sprintf(" And %d more lines.", len(wrong)-i)
			break
		}
		if i > 0 {
			text += " "
		}
		text += w.Error()
	}
	kind := shop.Invalid
	if code == "reading_kept" {
		kind = shop.Conflict
	}
	return &shop.Error{Kind: kind, Code: code, Text: "Nothing of this file was stored.", Fields: map[string]string{"file": text}}
}

// roomTemp says whether a room could be that warm or cold at all; a smokehouse is a room.
func roomTemp(t unit.Temp) bool { return t >= -60*unit.Fahrenheit && t <= 600*unit.Fahrenheit }

// asClash finds a reading that contradicts what is stored.
func asClash(err error) (*clash, bool) {
	var c *clash
	return c, errors.As(err, &c)
}
