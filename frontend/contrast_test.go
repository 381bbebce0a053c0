package frontend

import (
	"io/fs"
	"math"
	"regexp"
	"strconv"
	"testing"
)

// TestContrast reckons the contrast ratio of the palette as WCAG 2.2 defines it
// (definitions "contrast ratio" and "relative luminance"): text 7:1 (1.4.6), edges
// of controls and the focus ring 3:1 (1.4.11).
func TestContrast(t *testing.T) {
	css, err := fs.ReadFile(files, "static/app.css")
	if err != nil {
		t.Fatal(err)
	}
	colour := map[string]float64{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6});`).FindAllStringSubmatch(string(css), -1) {
		colour[m[1]] = luminance(t, m[2])
	}
	for _, tc := range []struct {
		on  string
		min float64
		ink []string
	}{
		{"paper", 7, []string{"ink", "soft", "press", "press-dark", "stop", "ok", "wait"}},
		{"card", 7, []string{"ink", "soft", "press", "press-dark", "stop", "ok", "wait"}},
		{"band", 7, []string{"ink", "soft", "press-dark"}},
		{"press", 7, []string{"on-press"}},
		{"press-dark", 7, []string{"on-press"}},
		{"stop", 7, []string{"on-press"}},
		{"ok-band", 7, []string{"ok", "ink"}},
		{"wait-band", 7, []string{"wait", "ink"}},
		{"stop-band", 7, []string{"stop", "ink"}},
		{"ink", 7, []string{"paper"}},
		{"paper", 3, []string{"edge", "focus"}},
		{"card", 3, []string{"edge", "focus"}},
		{"band", 3, []string{"edge", "focus"}},
		{"stop-band", 3, []string{"focus"}},
	} {
		for _, ink := range tc.ink {
			a, okA := colour[tc.on]
			b, okB := colour[ink]
			if !okA || !okB {
				t.Fatalf("no colour %s or %s in app.css", tc.on, ink)
			}
			if c := (math.Max(a, b) + 0.05) / (math.Min(a, b) + 0.05); c < tc.min {
				t.Errorf("%s on %s: %.2f:1, want %v:1", ink, tc.on, c, tc.min)
			}
		}
	}
}

// TestLuminance holds the reckoning itself to the two ends of the scale and to
// #767676, the grey known to give 4.54:1 on white (common practice).
func TestLuminance(t *testing.T) {
	white, black, grey := luminance(t, "ffffff"), luminance(t, "000000"), luminance(t, "767676")
	if white != 1 || black != 0 {
		t.Errorf("white %v, black %v", white, black)
	}
	if c := 1.05 / (grey + 0.05); math.Abs(c-4.54) > 0.005 {
		t.Errorf("#767676 on white: %.3f:1", c)
	}
}

func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	ch := func(v uint64) float64 {
		s := float64(v&0xff) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*ch(n>>16) + 0.7152*ch(n>>8) + 0.0722*ch(n)
}
