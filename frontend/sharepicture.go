package frontend

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// The picture of a page, in pixels: the shape that messengers and boards show whole
// (1.91 to 1; common practice).
const (
	shareWidth  = 1200
	shareHeight = 630
	shareMargin = 72
)

// The colours are those of the style sheet's paper, ink, press and band.
var (
	sharePaper = color.RGBA{0xfa, 0xf6, 0xee, 0xff}
	shareInk   = color.RGBA{0x23, 0x1c, 0x15, 0xff}
	sharePress = color.RGBA{0x7a, 0x24, 0x18, 0xff}
	shareOn    = color.RGBA{0xff, 0xfd, 0xf8, 0xff}
)

// shareFonts are parsed once: they are part of the program, so that they cannot fail.
var shareFonts = sync.OnceValues(func() (map[bool]*opentype.Font, error) {
	fonts := map[bool]*opentype.Font{}
	for bold, ttf := range map[bool][]byte{false: goregular.TTF, true: gobold.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil {
			return nil, fmt.Errorf("the font of the pictures: %w", err)
		}
		fonts[bold] = f
	}
	return fonts, nil
})

// draw is the picture as PNG. The few colours on it are kept as a palette, which makes the
// file a tenth of the size.
func (p shareWords) draw() ([]byte, error) {
	fonts, err := shareFonts()
	if err != nil {
		return nil, err
	}
	m := image.NewPaletted(image.Rect(0, 0, shareWidth, shareHeight), sharePalette())
	fill := func(r image.Rectangle, c color.Color) { draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src) }
	fill(m.Bounds(), sharePaper)
	const band = 116
	fill(image.Rect(0, 0, shareWidth, band), sharePress)
	pen := sharePen{m: m, fonts: fonts}
	pen.line(76, 44, true, shareOn, p.Shop)
	y, size := 232, 80.0
	lines := pen.wrap(size, true, p.Title)
	if len(lines) > 2 {
		size = 60
		lines = pen.wrap(size, true, p.Title)
	}
	for _, l := range lines[:min(len(lines), 3)] {
		pen.line(y, size, true, shareInk, l)
		y += int(size * 1.2)
	}
	y += 8
	for i, text := range []string{p.When, p.Ready, p.Price} {
		if text == "" {
			continue
		}
		ink := shareInk
		if i == 1 {
			ink = sharePress
		}
		pen.line(y, 42, i == 0, ink, text)
		y += 60
	}
	if p.Where != "" {
		pen.line(shareHeight-44, 32, false, shareInk, p.Where)
	}
	if pen.err != nil {
		return nil, pen.err
	}
	var b bytes.Buffer
	err = (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, m)
	return b.Bytes(), err
}

// sharePalette is the shades between the ground and what is written on it.
func sharePalette() color.Palette {
	var all color.Palette
	for _, pair := range [][2]color.RGBA{{sharePaper, shareInk}, {sharePaper, sharePress}, {sharePress, shareOn}} {
		const steps = 16
		for i := range steps {
			mix := func(a, b uint8) uint8 { return uint8((int(a)*(steps-1-i) + int(b)*i) / (steps - 1)) }
			all = append(all, color.RGBA{mix(pair[0].R, pair[1].R), mix(pair[0].G, pair[1].G), mix(pair[0].B, pair[1].B), 0xff})
		}
	}
	return all
}

type sharePen struct {
	m     draw.Image
	fonts map[bool]*opentype.Font
	err   error
}

func (p *sharePen) face(size float64, bold bool) font.Face {
	f, err := opentype.NewFace(p.fonts[bold], &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err != nil && p.err == nil {
		p.err = err
	}
	return f
}

const shareRoom = fixed.Int26_6((shareWidth - 2*shareMargin) << 6)

// line writes text with its foot on y, smaller where it would be too wide.
func (p *sharePen) line(y int, size float64, bold bool, ink color.Color, text string) {
	f := p.face(size, bold)
	for p.err == nil && size > 16 && font.MeasureString(f, text) > shareRoom {
		size -= 2
		f = p.face(size, bold)
	}
	if p.err != nil {
		return
	}
	d := font.Drawer{Dst: p.m, Src: image.NewUniform(ink), Face: f, Dot: fixed.P(shareMargin, y)}
	d.DrawString(text)
}

// wrap breaks text between words.
func (p *sharePen) wrap(size float64, bold bool, text string) []string {
	f := p.face(size, bold)
	if p.err != nil {
		return nil
	}
	var lines []string
	for _, word := range strings.Fields(text) {
		if n := len(lines); n > 0 && font.MeasureString(f, lines[n-1]+" "+word) <= shareRoom {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	return lines
}
