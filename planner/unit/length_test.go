package unit

import (
	"testing"
)

func TestLengths(t *testing.T) {
	for in, want := range map[string]Length{"1.5 in": 38_100, `1.5"`: 38_100, "38 mm": 38_000, "3.81cm": 38_100, " 2in ": 50_800, "0 in": 0, "0.01 in": 254} {
		if got, err := ParseLength(in); err != nil || got != want {
			t.Errorf("ParseLength(%q) = %d, %v, want %d", in, got, err, want)
		}
	}
	for _, bad := range []string{"", "1.5", "in", "-1 in", "1,5 in", "1.5 ft", "1e3 mm", "0.00001 in", "99999999999 mm"} {
		if l, err := ParseLength(bad); err == nil {
			t.Errorf("ParseLength(%q) = %d", bad, l)
		}
	}
	if l, err := ParseLengthIn("1.75", Inch); err != nil || l != 44_450 {
		t.Errorf("%d, %v", l, err)
	}
	if l, err := ParseLengthIn("38 mm", Inch); err != nil || l != 38_000 {
		t.Errorf("%d, %v", l, err)
	}
	if s := Length(38_410).In(); s != "1.51 in" {
		t.Error(s)
	}
	if l := LengthOfMM(38.41); l != 38_410 || l.MM() != 38.41 {
		t.Error(l)
	}
}

func FuzzLength(f *testing.F) {
	for _, s := range []string{"1.5 in", "38 mm", `2"`, "x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ParseLength(s)
		if err != nil {
			return
		}
		if back, err := ParseLength(l.String()); err != nil || back != l || l < 0 {
			t.Errorf("%q read as %s, written back %v, %v", s, l, back, err)
		}
	})
}
