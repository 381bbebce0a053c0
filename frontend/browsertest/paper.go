package browsertest

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func quote(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string always marshals
	}
	return string(b)
}

// The papers a shop prints on, in inches. ISO 216 has A4 at 210 × 297 mm; Letter is
// 8.5 × 11 in.
var (
	A4     = chromedp.PaperSize{Width: 210 / 25.4, Height: 297 / 25.4}
	Letter = chromedp.PaperSize{Width: 8.5, Height: 11}
)

// A Sheet is one printed page: its size and the words on it, in millimetres.
type Sheet struct {
	Width, Height float64
	Words         []Word
}

// A Word is a printed word and its box, in millimetres from the top left corner.
type Word struct {
	Text                   string
	Left, Top, Right, Foot float64
}

// Text is the words of the sheet in reading order, one space apart.
func (s Sheet) Text() string {
	words := make([]string, len(s.Words))
	for i, w := range s.Words {
		words[i] = w.Text
	}
	return strings.Join(words, " ")
}

// Sheets reads a printed file back with pdftotext, which knows nothing of the
// browser that wrote it.
func Sheets(t *testing.T, pdf string) []Sheet {
	t.Helper()
	out, err := exec.Command(Need(t, "pdftotext", "package poppler-utils"), "-bbox", pdf, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext %s: %v", pdf, err)
	}
	var doc struct {
		Pages []struct {
			Width  float64 `xml:"width,attr"`
			Height float64 `xml:"height,attr"`
			Words  []struct {
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			} `xml:"word"`
		} `xml:"body>doc>page"`
	}
	dec := xml.NewDecoder(strings.NewReader(string(out)))
	dec.Strict, dec.Entity, dec.AutoClose = false, xml.HTMLEntity, xml.HTMLAutoClose
	if err := dec.Decode(&doc); err != nil {
		t.Fatalf("pdftotext %s: %v", pdf, err)
	}
	const mm = 25.4 / 72 // a PDF counts in points
	var sheets []Sheet
	for _, p := range doc.Pages {
		s := Sheet{Width: p.Width * mm, Height: p.Height * mm}
		for _, w := range p.Words {
			s.Words = append(s.Words, Word{w.Text, w.XMin * mm, w.YMin * mm, w.XMax * mm, w.YMax * mm})
		}
		sheets = append(sheets, s)
	}
	if len(sheets) == 0 {
		t.Fatalf("%s has no pages", pdf)
	}
	return sheets
}

// Printed checks a print as the shop wants every sheet: of the paper's size, 10 mm
// clear at every edge, words within 190 mm (259 mm across; the height common to A4
// and Letter follows from Letter's own margins), and "page n of m" on each.
func Printed(t *testing.T, pdf string, paper chromedp.PaperSize) []Sheet {
	t.Helper()
	const margin, hair = 10, 0.3
	sheets := Sheets(t, pdf)
	for i, s := range sheets {
		width, paperWidth := 190.0, paper.Width*25.4
		if s.Width > s.Height {
			width, paperWidth = 259, paper.Height*25.4
		}
		if d := s.Width - paperWidth; d > 1 || d < -1 {
			t.Errorf("sheet %d is %.1f mm wide, the paper %.1f", i+1, s.Width, paperWidth)
		}
		if want := fmt.Sprintf("page %d of %d", i+1, len(sheets)); !strings.Contains(s.Text(), want) {
			t.Errorf("sheet %d does not say %q", i+1, want)
		}
		left, top, right, foot := s.Width, s.Height, 0.0, 0.0
		for _, w := range s.Words {
			left, top, right, foot = min(left, w.Left), min(top, w.Top), max(right, w.Right), max(foot, w.Foot)
		}
		if left < margin-hair || top < margin-hair || right > s.Width-margin+hair || foot > s.Height-margin+hair {
			t.Errorf("sheet %d: words reach from %.1f, %.1f to %.1f, %.1f mm on %.1f × %.1f: less than %d mm clear", i+1, left, top, right, foot, s.Width, s.Height, margin)
		}
		if right-left > width+hair {
			t.Errorf("sheet %d: words are spread over %.1f mm, want within %.0f", i+1, right-left, width)
		}
	}
	return sheets
}

// Codes reads every code printed on a file back with zbar, at 300 dots an inch as a shop's
// printer sets them, in the order of the sheets; each is its kind and what it says.
func Codes(t *testing.T, pdf string) []string {
	t.Helper()
	render, read := Need(t, "pdftoppm", "package poppler-utils"), Need(t, "zbarimg", "package zbar-tools")
	sheet := filepath.Join(t.TempDir(), "sheet")
	if out, err := exec.Command(render, "-r", "300", "-gray", "-png", pdf, sheet).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v %s", err, out)
	}
	pictures, err := filepath.Glob(sheet + "*.png")
	if err != nil || len(pictures) == 0 {
		t.Fatalf("no sheets: %v", err)
	}
	var codes []string
	for _, p := range pictures {
		out, err := exec.Command(read, "--quiet", p).Output()
		var none *exec.ExitError
		if errors.As(err, &none) && none.ExitCode() == 4 {
			continue // zbar's word for a picture without codes
		}
		if err != nil {
			t.Fatalf("zbarimg: %v", err)
		}
		codes = append(codes, strings.Fields(string(out))...)
	}
	return codes
}
