package reckon

import (
	"encoding/json"
	"fmt"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"flitchbook/planner/unit"
)

// Some documents come from machines and count in plain numbers: days from a day 0,
// money in cents, names that are numbers. These types take both and remember which.

// centsOr is "$95.00", or 9500.
type centsOr struct {
	money unit.Money
	text  bool
}

func (centsOr) Schema(huma.Registry) *huma.Schema {
	zero := 0.0
	return &huma.Schema{Description: "an amount of money, or plain cents", Examples: []any{"$95.00", 9500},
		OneOf: []*huma.Schema{{Type: huma.TypeString, Pattern: `^\s*\$?[0-9]+(\.[0-9]{1,2})?\s*$`}, {Type: huma.TypeInteger, Minimum: &zero}}}
}

func (c *centsOr) UnmarshalText(b []byte) (err error) {
	c.text = true
	c.money, err = unit.ParseMoney(string(b))
	return err
}

func (c *centsOr) UnmarshalJSON(b []byte) error { return plain(b, (*int64)(&c.money), c.UnmarshalText) }

func (c centsOr) MarshalJSON() ([]byte, error) {
	if c.text {
		return json.Marshal(c.money)
	}
	return json.Marshal(int64(c.money))
}

// dayOr is "2026-10-08", or days from day 0.
type dayOr struct {
	date   unit.Day
	number int
}

func (dayOr) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Description: "a date, or a number of days from day 0", Examples: []any{"2026-10-08", 12},
		OneOf: []*huma.Schema{{Type: huma.TypeString, Pattern: `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`}, {Type: huma.TypeInteger}}}
}

func (d *dayOr) UnmarshalText(b []byte) (err error) {
	d.date, err = unit.ParseDay(string(b))
	return err
}

func (d *dayOr) UnmarshalJSON(b []byte) error {
	var n int64
	err := plain(b, &n, d.UnmarshalText)
	d.number = int(n)
	return err
}

func (d dayOr) MarshalJSON() ([]byte, error) {
	if d.date != 0 {
		return json.Marshal(d.date)
	}
	return json.Marshal(d.number)
}

// labelOr is a name, or a number used as one.
type labelOr struct {
	text   string
	number bool
}

func (labelOr) Schema(huma.Registry) *huma.Schema {
	one := 1
	return &huma.Schema{Description: "a name or a number", Examples: []any{"B4", 4},
		OneOf: []*huma.Schema{{Type: huma.TypeString, MinLength: &one}, {Type: huma.TypeInteger}}}
}

func (l *labelOr) UnmarshalJSON(b []byte) error {
	var n int64
	if err := plain(b, &n, func(s []byte) error { l.text = string(s); return nil }); err != nil {
		return err
	}
	if b[0] != '"' {
		l.text, l.number = strconv.FormatInt(n, 10), true
	}
	return nil
}

func (l labelOr) MarshalJSON() ([]byte, error) {
	if l.number {
		return []byte(l.text), nil
	}
	return json.Marshal(l.text)
}

// plain reads a whole number into n, or hands a string on.
func plain(b []byte, n *int64, text func([]byte) error) error {
	if len(b) > 0 && b[0] == '"' {
		var s string
		if err := json.Unmarshal(b, &s); err != nil {
			return err
		}
		return text([]byte(s))
	}
	if err := json.Unmarshal(b, n); err != nil {
		return fmt.Errorf("%s is not a whole number within reach", b)
	}
	return nil
}
