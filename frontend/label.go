package frontend

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/labstack/echo/v4"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// Labels are PDFs in true size, one label a page: print them at 100 %, without scaling.
const (
	labelWidth   = 102.0 // mm
	bagHeight    = 51.0
	packetHeight = 76.0
)

func (s *Site) labelRoutes(e *echo.Echo) {
	e.GET("/staff/classes/:code/bags.pdf", s.bagLabels, api.Need(shop.Staff))
	e.GET("/staff/slabs/:tag/packet.pdf", s.packetLabel, api.Need(shop.Staff))
}

// A label draws in millimetres from the top left corner.
type label struct{ *fpdf.Fpdf }

func newLabel(title string, height float64, s *Site) label {
	p := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: labelWidth, Ht: height}})
	p.SetMargins(3, 3, 3)
	p.SetAutoPageBreak(false, 0)
	p.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	p.SetTitle(title, true)
	now := s.Store.Now().Time()
	p.SetCreationDate(now)
	p.SetModificationDate(now)
	return label{p}
}

func (l label) text(x, y, size float64, style, text string) {
	l.SetFont("go", style, size)
	l.Text(x, y, text)
}

// fit writes text no wider than width, smaller if need be.
func (l label) fit(x, y, size, width float64, style, text string) {
	for l.SetFont("go", style, size); size > 5 && l.GetStringWidth(text) > width; size -= 0.5 {
		l.SetFont("go", style, size-0.5)
	}
	l.Text(x, y, text)
}

// code draws a code into a box, its modules square in both directions for QR.
func (l label) code(c Code, x, y, w, h float64) {
	l.SetFillColor(0, 0, 0)
	sx, sy := w/float64(c.Width), h/float64(c.Height)
	for _, r := range c.Black {
		l.Rect(x+float64(r.X)*sx, y+float64(r.Y)*sy, float64(r.W)*sx, float64(r.H)*sy, "F")
	}
}

func (l label) send(c echo.Context, name string) error {
	var buf bytes.Buffer
	if err := l.Output(&buf); err != nil {
		return fmt.Errorf("label: %w", err)
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, fmt.Sprintf("inline; filename=%q", name))
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, "application/pdf", buf.Bytes())
}

// bagLabels are stuck on dry, empty, room-warm bags before the class.
func (s *Site) bagLabels(c echo.Context) error {
	ctx := c.Request().Context()
	k, err := s.Store.KitList(ctx, c.Param("code"))
	if err != nil {
		return err
	}
	sh, err := s.Store.ClassSheet(ctx, c.Param("code"))
	if err != nil {
		return err
	}
	if len(k.Lines) == 0 {
		return shop.Stop("no_slabs", "No slabs are cut for %s yet.", k.Code)
	}
	needs := map[string]string{}
	for _, l := range sh.Lines {
		if mark := strings.Join(l.Needs, ", "); mark != "none" {
			for _, tag := range l.Tags {
				needs[tag] = mark
			}
		}
	}
	p := newLabel("Bag labels "+k.Code, bagHeight, s)
	for _, l := range k.Lines {
		if err := s.bagLabel(p, k, l, needs[l.Tag]); err != nil {
			return err
		}
	}
	return p.send(c, "bags-"+k.Code+".pdf")
}

func (s *Site) bagLabel(p label, k *store.KitList, l store.KitLine, needs string) error {
	bar, err := barCode(l.Tag)
	if err != nil {
		return err
	}
	p.AddPage()
	p.text(3, 17, 44, "B", l.Tag)
	p.code(bar, 66, 3, 33, 10)
	p.fit(66, 18, 9, 33, "", k.StartsAt.Day(s.Store.Loc).Show())
	who := l.Name
	if l.Seat > 0 {
		who = fmt.Sprintf("Seat %d  %s", l.Seat, l.Name)
	}
	p.fit(3, 26, 16, 60, "B", who)
	weight := "Green ________ lb"
	if l.Weighed {
		weight = "Green " + l.Weight.LB()
	}
	if l.SkinOn {
		weight += ", skin on"
	}
	p.fit(3, 34, 13, 60, "", weight)
	spice := "Spice ________________"
	switch {
	case l.Ask:
	case l.Spice > 0 && l.Weighed:
		spice = "Spice " + l.Jar + " " + l.Spice.G(0)
	case l.Spice > 0:
		spice = "Spice " + l.Jar + " ______ g" // by its own weight, once that is known
	default:
		spice = "Plain"
	}
	p.fit(3, 41, 13, 60, "", spice)
	if needs != "" {
		p.SetLineWidth(0.6)
		p.Rect(66, 21, 33, 12, "D")
		p.fit(68, 28.5, 12, 29, "B", needs)
	}
	p.fit(3, 48, 8, 96, "", "Sealed ________  Raw pork in cure. Keep at or below 41 °F.")
	return nil
}

// packetLabel is printed from the slab's own record; without one there is no label.
func (s *Site) packetLabel(c echo.Context) error {
	l, err := s.Store.Packet(c.Request().Context(), c.Param("tag"))
	if err != nil {
		return err
	}
	bar, err := barCode(l.Tag)
	if err != nil {
		return err
	}
	p := newLabel("Packet label "+l.Tag, packetHeight, s)
	p.AddPage()
	p.text(3, 11, 24, "B", "Bacon")
	p.code(bar, 66, 3, 33, 9)
	p.text(3, 16.5, 9, "", "Cured and smoked pork belly, not fully cooked.")
	p.text(3, 20.5, 9, "B", "Cook before eating.")
	p.SetXY(3, 22.5)
	p.SetFont("go", "", 8)
	p.Write(3.4, "Ingredients: ")
	for i, in := range l.Ingredients {
		style := ""
		if in.Allergen {
			style = "B"
		}
		p.SetFont("go", style, 8)
		p.Write(3.4, in.Text)
		p.SetFont("go", "", 8)
		if i < len(l.Ingredients)-1 {
			p.Write(3.4, ", ")
		}
	}
	p.Write(3.4, ".")
	if len(l.Contains) > 0 {
		p.SetFont("go", "B", 8.5)
		p.Write(3.4, " Contains "+strings.Join(l.Contains, ", ")+".")
	}
	y := p.GetY() + 8
	p.fit(3, y, 14, 60, "B", "Net "+l.Net.LB())
	p.fit(66, y, 11, 33, "B", "Lot "+l.Tag)
	use := "Use or freeze by "
	if l.Frozen {
		use = "Frozen. Use by "
	}
	p.fit(3, y+5.5, 10, 60, "B", use+l.UseBy.ShowYear())
	p.fit(66, y+5.5, 8, 33, "", "Packed "+l.PackedOn.ShowYear())
	p.fit(3, y+10.5, 10, 96, "B", "Keep at or below 41 °F (5 °C).")
	p.SetXY(3, y+12.5)
	p.SetFont("go", "", 7)
	p.MultiCell(96, 2.9, l.Handling, "", "L", false)
	if p.GetY() > packetHeight-5 {
		return shop.Stop("handling_long", "The safe-handling words are too long for the packet label. Shorten them.")
	}
	p.fit(3, packetHeight-2.5, 8, 96, "", l.Shop)
	return p.send(c, "packet-"+l.Tag+".pdf")
}
