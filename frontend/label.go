package frontend

import (
	"bytes"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/labstack/echo/v4"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	food "flitchbook/planner/label"
	"flitchbook/planner/unit"
)

// Labels are PDFs in true size, one label a page: print them at 100 %, without scaling.
const (
	labelWidth   = 102.0 // mm
	bagHeight    = 51.0
	packetHeight = 76.0
	frozenHeight = 51.0
	labelInside  = labelWidth - 6
)

// Letters of the safe-handling words: small ones 1/16 in high at least (9 CFR 317.2(l)).
// In these fonts a small letter is 0.53 of the size.
const handlingPoints = 8.6

func (s *Site) labelRoutes(e *echo.Echo) {
	e.GET("/staff/classes/:code/bags.pdf", s.bagLabels, api.Need(shop.Staff))
	e.GET("/staff/slabs/:tag/packet.pdf", s.packetLabel, api.Need(shop.Staff))
	e.GET("/staff/slabs/:tag/frozen.pdf", s.frozenLabel, api.Need(shop.Staff))
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
	p.SetCellMargin(0)
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
	only := strings.FieldsFunc(strings.ToUpper(c.QueryParam("tags")), func(r rune) bool { return r == ',' || r == ' ' })
	for _, l := range k.Lines {
		if len(only) > 0 && !slices.Contains(only, l.Tag) {
			continue
		}
		if err := s.bagLabel(p, k, l, needs[l.Tag]); err != nil {
			return err
		}
	}
	if p.PageCount() == 0 {
		return shop.Missing("A slab of " + k.Code + " with that tag")
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
	if l.Frozen {
		return shop.Stop("frozen", "%s is in the freezer: print the freezer's label.", l.Tag)
	}
	p := newLabel("Packet label "+l.Tag, packetHeight, s)
	p.AddPage()
	if err := p.codes(l); err != nil {
		return err
	}
	p.fit(3, 9.5, 22, 60, "B", l.Name)
	p.fit(3, 14, 9, 61, "", "Cured and smoked pork belly, not fully cooked.")
	p.fit(3, 18, 9, 61, "B", "Cook before eating.")
	// The words of the law take what room they need; the ingredients get the rest.
	handling := p.lines(l.Handling, labelInside-3, handlingPoints)
	box := float64(handling)*3.25 + 2
	top := packetHeight - 5.5 - box
	y := top - 14.5
	size, ok := 9.0, false
	for ; size >= 6.5 && !ok; size -= 0.5 {
		ok = p.ingredients(l, 19.5, size, false) <= y-4.5
	}
	if !ok {
		return shop.Stop("label_full", "Ingredients and safe-handling words do not fit on the packet label together. Shorten what the jar contains, or print on a larger label.")
	}
	p.ingredients(l, 19.5, size+0.5, true)
	p.fit(3, y, 13, 61, "B", fmt.Sprintf("Net weight %s (%d g)", l.Net.LB(), l.Net/unit.Gram))
	p.fit(3, y+5, 11, 61, "B", "Use or freeze by "+l.UseBy.ShowYear())
	p.fit(66, y+5, 8.5, 33, "", "Packed on "+l.PackedOn.ShowYear())
	p.fit(3, y+9.5, 10, labelInside, "B", "Keep at or below 41 °F (5 °C).")
	p.fit(3, y+13, 8.5, labelInside, "B", fmt.Sprintf("Discard if not eaten within %d calendar days of packing; days frozen do not count.", s.Store.Rules.PackDays))
	p.SetLineWidth(0.4)
	p.Rect(3, top, labelInside, box, "D")
	p.SetXY(4.5, top+1)
	p.SetFont("go", "", handlingPoints)
	p.MultiCell(labelInside-3, 3.25, l.Handling, "", "L", false)
	p.fit(3, packetHeight-2.5, 8.5, labelInside, "", l.Shop+", "+l.Place)
	return p.send(c, "packet-"+l.Tag+".pdf")
}

// frozenLabel goes over the packet's own when it is put into the freezer.
func (s *Site) frozenLabel(c echo.Context) error {
	l, err := s.Store.Packet(c.Request().Context(), c.Param("tag"))
	if err != nil {
		return err
	}
	if !l.Frozen {
		return shop.Stop("not_frozen", "%s is not in the freezer: put it there first, then print its label.", l.Tag)
	}
	p := newLabel("Freezer label "+l.Tag, frozenHeight, s)
	p.AddPage()
	if err := p.codes(l); err != nil {
		return err
	}
	p.fit(3, 11, 24, 60, "B", "Frozen")
	p.fit(3, 17, 9, 61, "", l.Name+": cured and smoked, not fully cooked.")
	p.fit(3, 24, 13, 61, "B", "Frozen on "+l.FrozenOn.ShowYear())
	p.fit(3, 31, 12, 76, "B", fmt.Sprintf("Use within %d months: by %s", s.Store.Rules.FrozenFor, l.UseBy.ShowYear()))
	thaw := fmt.Sprintf("After thawing: use within %d days, at or below 41 °F (5 °C).", l.ThawDays)
	if l.ThawDays == 0 {
		thaw = "Thaw it in the fridge and cook it the same day."
	}
	p.fit(3, 37, 11, labelInside, "B", thaw)
	p.fit(3, 42, 9.5, labelInside, "", "Do not freeze again. Cook before eating.")
	contains := ""
	if len(l.Contains) > 0 {
		contains = "  Contains: " + allergens(l.Contains) + "."
	}
	p.fit(3, 46, 9, labelInside, "B", fmt.Sprintf("Net weight %s (%d g).%s", l.Net.LB(), l.Net/unit.Gram, contains))
	p.fit(3, frozenHeight-1.8, 7.5, labelInside, "", l.Shop+", "+l.Place)
	return p.send(c, "frozen-"+l.Tag+".pdf")
}

// codes draws the tag as a bar code and as the address of the slab's page, and in letters.
func (l label) codes(p *store.PacketLabel) error {
	bar, err := barCode(p.Tag)
	if err != nil {
		return err
	}
	address, err := qrCode(p.Link)
	if err != nil {
		return err
	}
	l.code(bar, 64, 2.5, 36, 9)
	l.code(address, 79, 12, 21, 21)
	l.fit(65, 16, 8, 14, "", "Lot")
	l.fit(65, 21, 14, 14, "B", p.Tag)
	return nil
}

// lines is how many lines a text takes in a width.
func (l label) lines(text string, width, size float64) int {
	l.SetFont("go", "", size)
	n := 0
	for _, part := range strings.Split(text, "\n") {
		n += max(1, len(l.SplitText(part, width)))
	}
	return n
}

// A run is words of one weight of type.
type run struct {
	text string
	bold bool
}

func statement(l *store.PacketLabel) []run {
	out := []run{{"Ingredients: ", false}}
	var walk func(list []food.Ingredient)
	walk = func(list []food.Ingredient) {
		for i, in := range list {
			if i > 0 {
				out = append(out, run{", ", false})
			}
			out = append(out, run{in.Name, food.Bold(in, l.Contains)})
			if len(in.Parts) > 0 {
				out = append(out, run{" (", false})
				walk(in.Parts)
				out = append(out, run{")", false})
			}
		}
	}
	walk(l.Ingredients)
	return append(out, run{".", false})
}

func allergens(list []food.Allergen) string {
	var out []string
	for _, a := range list {
		out = append(out, a.String())
	}
	return strings.Join(out, ", ")
}

// ingredients sets the statement and the allergens beside the codes from y on, or only
// measures; it answers where the last line stands.
func (l label) ingredients(p *store.PacketLabel, y, size float64, draw bool) float64 {
	const left = 3.0
	right := func(y float64) float64 {
		switch {
		case y < 24.5:
			return 64 // of the tag in letters
		case y < 36:
			return 78 // of the QR code
		}
		return labelWidth - 3
	}
	step := size * 0.41
	y += step * 0.75
	x := left
	style := func(bold bool) {
		l.SetFont("go", map[bool]string{true: "B", false: ""}[bold], size)
	}
	word := func(w string, bold bool) {
		style(bold)
		width := l.GetStringWidth(strings.TrimRight(w, " "))
		if x > left && x+width > right(y) {
			x, y = left, y+step
			w = strings.TrimLeft(w, " ")
		}
		if draw {
			l.Text(x, y, w)
		}
		x += l.GetStringWidth(w)
	}
	line := func(runs []run) {
		for _, w := range words(runs) {
			// A word may change its weight of type inside, as before a comma.
			width := 0.0
			for _, r := range w {
				style(r.bold)
				width += l.GetStringWidth(strings.TrimRight(r.text, " "))
			}
			if x > left && x+width > right(y) {
				x, y = left, y+step
			}
			for _, r := range w {
				word(r.text, r.bold)
			}
		}
	}
	line(statement(p))
	if len(p.Contains) > 0 {
		x, y = left, y+step*1.05
		line([]run{{"Contains: " + allergens(p.Contains) + ".", true}})
	}
	return y
}

// words cuts runs at their spaces; what stands together stays together.
func words(runs []run) [][]run {
	var out [][]run
	var now []run
	for _, r := range runs {
		for _, part := range strings.SplitAfter(r.text, " ") {
			if part == "" {
				continue
			}
			now = append(now, run{part, r.bold})
			if strings.HasSuffix(part, " ") {
				out, now = append(out, now), nil
			}
		}
	}
	if now != nil {
		out = append(out, now)
	}
	return out
}
