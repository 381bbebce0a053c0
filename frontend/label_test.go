package frontend

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"
	"github.com/makiuchi-d/gozxing/qrcode"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"flitchbook/frontend/browsertest"
	food "flitchbook/planner/label"
)

// The codes are read back by a reader that knows nothing of ours.
func TestCodesAreRead(t *testing.T) {
	draw := func(c Code, scale int) *gozxing.BinaryBitmap {
		img := image.NewGray(image.Rect(0, 0, c.Width*scale, c.Height*scale))
		for i := range img.Pix {
			img.Pix[i] = 255
		}
		for _, r := range c.Black {
			for y := r.Y * scale; y < (r.Y+r.H)*scale; y++ {
				for x := r.X * scale; x < (r.X+r.W)*scale; x++ {
					img.SetGray(x, y, color.Gray{})
				}
			}
		}
		bmp, err := gozxing.NewBinaryBitmapFromImage(img)
		if err != nil {
			t.Fatal(err)
		}
		return bmp
	}
	bar, err := barCode("B4-03")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := oned.NewCode128Reader().Decode(draw(bar, 3), nil); err != nil || got.GetText() != "B4-03" {
		t.Errorf("bar code reads %v, %v", got, err)
	}
	link := "https://corbel.example.test/s/abcdefghijkmnpqrstuvwxyz23"
	q, err := qrCode(link)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := qrcode.NewQRCodeReader().Decode(draw(q, 4), nil); err != nil || got.GetText() != link {
		t.Errorf("QR code reads %v, %v", got, err)
	}
	if _, err := barCode("Käse"); err == nil {
		t.Error("a text the code cannot hold was taken")
	}
}

// packed brings the workshop's two slabs from the tray into their packets, as the pages
// press it: B3-01 mustard & honey, B3-02 pepper & bay.
func (w *workshop) packed() {
	w.t.Helper()
	w.done("/staff/bench/scale", "scale", "cure scale", "shown", "5.0")
	for tag, spice := range map[string]string{"B3-01": "28", "B3-02": "20"} {
		w.done("/staff/bench/cut", "tag", tag, "weight", "4.40", "skin", "off")
		w.done("/staff/bench/kit", "tag", tag)
		w.done("/staff/bench/weigh", "tag", tag, "salt", "44", "sugar", "22", "cure", "5.0", "spice", spice, "scale", "cure scale")
		w.done("/staff/bench/seal", "tag", tag)
	}
	w.Go("2026-11-05 10:00")
	w.done("/staff/smoke/2026-11-06")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/rinse", "tag", tag)
	}
	w.Go("2026-11-06 08:00")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/hang", "tag", tag)
		w.done("/staff/bench/out", "tag", tag, "temp", "146")
	}
	// 135 to 70 °F within two hours, to 41 °F within six (Food Code 3-501.14).
	w.Go("2026-11-06 14:00")
	w.done("/staff/smoke/2026-11-06/paste", "phase", "chill", "text", "time,air,core\n8:40,,100\n9:30,,68\n13:30,36,40")
	w.Go("2026-11-07 15:00")
	for _, tag := range []string{"B3-01", "B3-02"} {
		w.done("/staff/bench/pack", "tag", tag, "weight", "3.74")
	}
}

// handlingWords are as long as the words of the regulation are, and are not they.
const handlingWords = "INVENTED HANDLING WORDS. Stand-in for the heading and the four lines a shop copies from its regulation, about as long as those are: one on keeping cold or frozen and on thawing, one on keeping apart from other foods and on washing hands, boards and knives, one on cooking, one on keeping hot food hot and what is left over cold at once or thrown away."

// Bag labels in true size, 102 × 51 mm.
func TestBagLabels(t *testing.T) {
	w := newWorkshop(t)
	w.done("/staff/bench/cut", "tag", "B3-01", "weight", "4.40", "skin", "off")
	code, pdf := w.get("/staff/classes/B3/bags.pdf")
	if code != http.StatusOK || !strings.HasPrefix(pdf, "%PDF-") {
		t.Fatalf("bag labels: %d", code)
	}
	// 102 mm = 289.13 pt, 51 mm = 144.57 pt.
	if !strings.Contains(pdf, "289.13 144.57") || strings.Count(pdf, "/Type /Page\n") != 2 {
		t.Error("the bag labels are not two pages of 102 × 51 mm")
	}
	said := textOfPDF(t, pdf)
	for _, s := range []string{"B3-01", "Seat 1", "Solveig", "Green 4.40 lb", "MH 28 g", "Green ________ lb", "PB ______ g", "ASK", "Sat Oct 24"} {
		if !strings.Contains(said, s) {
			t.Errorf("the bag labels do not say %q: %s", s, said)
		}
	}
	if got := scanned(t, pdf, 1); got != "CODE-128:B3-01" {
		t.Errorf("the bag's code reads %q", got)
	}
}

// The packet's label, 102 × 76 mm: its words are the slab's own record, weighed out, in
// order of weight, the allergen bold and named again; both codes are read back off the
// rendered paper. The words of the regulation are the shop's, and without them there is
// no label. The QR code leads to a page that asks who one is.
func TestPacketLabel(t *testing.T) {
	w := newWorkshop(t)
	if code, _ := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict {
		t.Errorf("a packet label for a slab that is not packed: %d", code)
	}
	w.packed()
	if code, body := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict || !strings.Contains(body, "safe-handling words") {
		t.Errorf("a packet label without handling words: %d", code)
	}
	w.Rules.Handling = handlingWords
	w.db.Exec("UPDATE settings SET value = '' WHERE name = 'shop_place'")
	if code, body := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict || !strings.Contains(body, "name and place") {
		t.Errorf("a packet label without the maker's place: %d", code)
	}
	w.db.Exec("UPDATE settings SET value = 'Pellow Crossing' WHERE name = 'shop_place'")
	code, pdf := w.get("/staff/slabs/B3-01/packet.pdf")
	if code != http.StatusOK || !strings.Contains(pdf, "289.13 215.43") {
		t.Fatalf("packet label: %d, not 102 × 76 mm", code)
	}
	said := textOfPDF(t, pdf)
	for _, s := range []string{"Bacon", "not fully cooked", "Cook before eating", "Net weight 3.74 lb (1696 g)", "B3-01", "Use or freeze by Sat Nov 28, 2026", "Packed on Sat Nov 7, 2026",
		"at or below 41 °F", "within 30 calendar days", "Contains: mustard.", "Corbel Street Butchery, Pellow Crossing"} {
		if !strings.Contains(said, s) {
			t.Errorf("the packet label does not say %q: %s", s, said)
		}
	}
	// The columns of the label run into one another in the text: the raw order is read.
	raw := readPDF(t, pdf, "-raw")
	if want := "Ingredients: pork belly, salt, mustard & honey (mustard seed, honey powder), sugar, sodium nitrite. Contains: mustard."; !strings.Contains(raw, want) {
		t.Errorf("the statement is not %q: %s", want, raw)
	}
	if !strings.Contains(raw, handlingWords) {
		t.Errorf("the handling words are not as the shop wrote them: %s", raw)
	}
	if got := scanned(t, pdf, 1); got != "CODE-128:B3-01 QR-Code:https://corbel.example.test/staff/slabs/B3-01" {
		t.Errorf("the packet's codes read %q", got)
	}
	// A scanner that types the QR code's address finds the slab all the same.
	w.done("/staff/shelf", "tag", "https://corbel.example.test/staff/slabs/B3-01", "place", "C2")
	w.by.Name = ""
	if code, body := w.get("/staff/slabs/B3-01"); code != http.StatusSeeOther || strings.Contains(body, "Solveig") {
		t.Errorf("whoever finds a packet and scans it gets %d", code)
	}
}

// Words that leave no room are refused rather than printed over one another.
func TestPacketLabelTooFull(t *testing.T) {
	w := newWorkshop(t)
	w.packed()
	w.Rules.Handling = strings.Repeat(handlingWords+" ", 3)
	if code, body := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict || !strings.Contains(body, "do not fit") {
		t.Errorf("a label with three times the words: %d", code)
	}
	// A nut that is not named by kind (FALCPA 2004): no label.
	w.Rules.Handling = handlingWords
	w.db.Exec("UPDATE jars SET contents = 'chopped nuts, soy sauce (water, soybeans, wheat, salt)', allergens = 'tree nut' WHERE code = 'MH'")
	if code, body := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict || !strings.Contains(body, "which tree nut") {
		t.Errorf("a nut without its kind: %d", code)
	}
	w.db.Exec("UPDATE jars SET contents = 'chopped pecans, soy sauce (water, soybeans, wheat, salt)' WHERE code = 'MH'")
	_, pdf := w.get("/staff/slabs/B3-01/packet.pdf")
	if raw := readPDF(t, pdf, "-raw"); !strings.Contains(raw, "(chopped pecans, soy sauce (water, soybeans, wheat, salt))") || !strings.Contains(raw, "Contains: tree nut (pecan), wheat, soy, mustard.") {
		t.Errorf("the label says %s", raw)
	}
	// Row E-P15: without a variance on file, the shop's own rule says stop or go.
	w.says("/staff/shelf", "no variance is on file")
	w.Rules.VarianceStrict = true
	if code, body := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict || !strings.Contains(body, "variance") {
		t.Errorf("a label where the variance is asked for: %d", code)
	}
	w.Rules.Variance = "V-26-014"
	if code, _ := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusOK {
		t.Errorf("a label with the variance on file: %d", code)
	}
}

// The freezer's label, 102 × 51 mm: frozen on, within three months, seven days once thawed.
func TestFreezerLabel(t *testing.T) {
	w := newWorkshop(t)
	w.packed()
	w.Rules.Handling = handlingWords
	w.done("/staff/bench/shelve", "tag", "B3-01", "place", "D3")
	if code, _ := w.get("/staff/slabs/B3-01/frozen.pdf"); code != http.StatusConflict {
		t.Errorf("a freezer label for a packet on the shelf: %d", code)
	}
	w.Go("2026-11-21 18:00")
	w.done("/staff/bench/freeze", "tag", "B3-01")
	if code, _ := w.get("/staff/slabs/B3-01/packet.pdf"); code != http.StatusConflict {
		t.Errorf("the packet's label in the freezer: %d", code)
	}
	code, pdf := w.get("/staff/slabs/B3-01/frozen.pdf")
	if code != http.StatusOK || !strings.Contains(pdf, "289.13 144.57") {
		t.Fatalf("freezer label: %d, not 102 × 51 mm", code)
	}
	said := textOfPDF(t, pdf)
	for _, s := range []string{"Frozen on Sat Nov 21, 2026", "Use within 3 months: by Sun Feb 21, 2027", "After thawing: use within 7 days", "not fully cooked", "Contains: mustard", "B3-01", "Pellow Crossing"} {
		if !strings.Contains(said, s) {
			t.Errorf("the freezer label does not say %q: %s", s, said)
		}
	}
	if got := scanned(t, pdf, 1); !strings.HasPrefix(got, "CODE-128:B3-01 QR-Code:") {
		t.Errorf("the freezer label's codes read %q", got)
	}
}

// Safe-handling words in letters of 1/16 in at the least (9 CFR 317.2(l)): so high is a
// small letter of the label's type.
func TestHandlingLetters(t *testing.T) {
	f, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	m, err := f.Metrics(nil, fixed.I(1000), font.HintingNone)
	if err != nil {
		t.Fatal(err)
	}
	mm := handlingPoints * 25.4 / 72 * float64(m.XHeight) / float64(fixed.I(1000))
	if food.Length(mm*float64(food.Millimetre)) < food.HandlingType {
		t.Errorf("a small letter is %.3f mm high, under 1/16 in", mm)
	}
}

// scanned renders one page at 300 dots an inch, as a label printer would, and reads its
// codes with zbar, which knows nothing of ours.
func scanned(t *testing.T, pdf string, page int) string {
	t.Helper()
	render, read := browsertest.Need(t, "pdftoppm", "poppler-utils"), browsertest.Need(t, "zbarimg", "zbar-tools")
	dir := t.TempDir()
	file := filepath.Join(dir, "label")
	cmd := exec.Command(render, "-r", "300", "-png", "-f", fmt.Sprint(page), "-l", fmt.Sprint(page), "-singlefile", "-", file)
	cmd.Stdin = strings.NewReader(pdf)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v %s", err, out)
	}
	if keep := os.Getenv("LABELS"); keep != "" { // to be looked at
		b, err := os.ReadFile(file + ".png")
		if err == nil {
			err = os.WriteFile(filepath.Join(keep, t.Name()+fmt.Sprint(page)+".png"), b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	out, err := exec.Command(read, "--quiet", file+".png").Output()
	if err != nil {
		t.Fatalf("zbarimg: %v", err)
	}
	lines := strings.Fields(string(out))
	if len(lines) == 2 && lines[0] > lines[1] {
		lines[0], lines[1] = lines[1], lines[0]
	}
	return strings.Join(lines, " ")
}

func textOfPDF(t *testing.T, pdf string) string { t.Helper(); return readPDF(t, pdf, "-layout") }

func readPDF(t *testing.T, pdf, order string) string {
	t.Helper()
	cmd := exec.Command(browsertest.Need(t, "pdftotext", "poppler-utils"), order, "-", "-")
	cmd.Stdin = strings.NewReader(pdf)
	var out bytes.Buffer
	cmd.Stdout = &out
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(out.String()), " ")
}
