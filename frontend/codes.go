package frontend

import (
	"fmt"

	"github.com/boombuler/barcode/code128"
	"rsc.io/qr"
)

// A Code is a scannable pattern as black rectangles on its own grid, for pages (inline
// SVG) and labels (PDF) alike. Its edge is quiet: the margin the standards ask for is
// inside.
type Code struct {
	Text          string // what it says, for readers without a scanner
	Width, Height int
	Black         []Rect
}

// A Rect is one black rectangle.
type Rect struct{ X, Y, W, H int }

// barCode is text as Code 128 (ISO/IEC 15417), ten modules of quiet on either side.
func barCode(text string) (Code, error) {
	b, err := code128.Encode(text)
	if err != nil {
		return Code{}, fmt.Errorf("bar code of %q: %w", text, err)
	}
	const quiet, height = 10, 24
	n := b.Bounds().Dx()
	c := Code{Text: text, Width: n + 2*quiet, Height: height}
	for x := 0; x < n; {
		w := 0
		for x+w < n {
			if r, _, _, _ := b.At(x+w, 0).RGBA(); r != 0 {
				break
			}
			w++
		}
		if w > 0 {
			c.Black = append(c.Black, Rect{x + quiet, 0, w, height})
			x += w
		} else {
			x++
		}
	}
	return c, nil
}

// qrCode is text as a QR code (ISO/IEC 18004), level M, four modules of quiet around.
func qrCode(text string) (Code, error) {
	q, err := qr.Encode(text, qr.M)
	if err != nil {
		return Code{}, fmt.Errorf("QR code: %w", err)
	}
	const quiet = 4
	c := Code{Text: text, Width: q.Size + 2*quiet, Height: q.Size + 2*quiet}
	for y := range q.Size {
		for x := 0; x < q.Size; {
			w := 0
			for x+w < q.Size && q.Black(x+w, y) {
				w++
			}
			if w > 0 {
				c.Black = append(c.Black, Rect{x + quiet, y + quiet, w, 1})
				x += w
			} else {
				x++
			}
		}
	}
	return c, nil
}
