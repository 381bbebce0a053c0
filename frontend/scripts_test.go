package frontend

import (
	"testing"

	"flitchbook/frontend/browsertest"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

const aloud = `[...document.querySelectorAll("[aria-live]")].map((e) => e.textContent).join("|")`

// TestRefusedFormInABrowser: with and without scripts the page comes back with what
// was typed, and the summary leads to the field.
func TestRefusedFormInABrowser(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	for _, script := range []bool{true, false} {
		tab := b.Tab(t, browsertest.Phone)
		if !script {
			tab.NoScript()
		}
		tab.Open("/book")
		tab.Do(chromedp.SendKeys(chromedp.CSS("#f-name"), "Nerys"), chromedp.SendKeys(chromedp.CSS("#f-email"), "nerys"),
			chromedp.Click(chromedp.CSS("form[data-live-total] button")), chromedp.WaitVisible(chromedp.CSS(".summary")))
		tab.Fits()
		if script {
			tab.Shot("refused")
			tab.Axe()
		}
		name, err := chromedp.Run(tab.Context(), chromedp.Value(chromedp.CSS("#f-name")))
		if err != nil || name != "Nerys" {
			t.Errorf("scripts %v: the typed name came back as %q, %v", script, name, err)
		}
		tab.Do(chromedp.Click(chromedp.CSS(".summary li:nth-child(2) a")))
		where, err := chromedp.Run(tab.Context(), chromedp.Location())
		if err != nil || where != b.URL+"/book#f-pick" {
			t.Errorf("scripts %v: the second problem leads to %s, %v", script, where, err)
		}
	}
}

func TestLiveTotal(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	tab := b.Tab(t, browsertest.Phone)
	tab.Open("/book")
	total := func() string {
		return browsertest.Eval[string](tab, `document.querySelector("[data-total]").textContent`)
	}
	if got := total(); got != "$190.00" {
		t.Errorf("two seats at $95.00: %s", got)
	}
	tab.Do(chromedp.Clear(chromedp.CSS("#f-watching")), chromedp.SendKeys(chromedp.CSS("#f-watching"), "1"))
	tab.WaitFor(`document.querySelector("[data-total]").textContent === "$220.00"`)
	tab.Do(chromedp.Focus(chromedp.CSS("#f-seats")), chromedp.KeyEvent("3"))
	tab.WaitFor(`document.querySelector("[data-total]").textContent === "$315.00"`)
	tab.Do(chromedp.SendKeys(chromedp.CSS("#f-watching"), "x"))
	tab.WaitFor(`document.querySelector("[data-total]").textContent === "$285.00"`)
}

func TestCountdown(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	tab := b.Tab(t, browsertest.Phone)
	tab.Open("/book")
	tab.WaitFor(`document.querySelector("[data-left]").textContent === "(20 min left)"`)
	if said := browsertest.Eval[string](tab, aloud); said != "" && said != "|" {
		t.Errorf("twenty minutes before the end it already says %q", said)
	}
	tab.Open("/book?left=290")
	tab.WaitFor(aloud + `.includes("4 min left.")`)
	tab.Open("/book?left=1")
	tab.WaitFor(`document.querySelector("[data-left]").textContent === "(the time is up)"`)
	tab.WaitFor(aloud + `.includes("The time is up.")`)
	if got := browsertest.Eval[string](tab, `document.querySelector("time").textContent`); got != "15:50" {
		t.Errorf("the shop's own words became %q", got)
	}
}

// TestScanning: one tag after another from a scanner that types and presses Enter.
func TestScanning(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	tab := b.Tab(t, browsertest.Phone)
	tab.Open("/staff/bench")
	tab.WaitFor(`document.activeElement.matches("[data-scan]")`)
	began := browsertest.Eval[float64](tab, `performance.timeOrigin`)
	scan := func(tag string) { t.Helper(); tab.Do(chromedp.KeyEvent(tag + kb.Enter)) }
	const box = `document.querySelector("[data-scan]")`

	scan("B4-03")
	tab.WaitFor(aloud + `.includes("Right: B4-03 is on C2.")`)
	tab.WaitFor(`document.activeElement === ` + box + ` && ` + box + `.value === ""`)
	tab.WaitFor(`document.querySelector("#slab .tag").textContent === "B4-03"`)
	tab.WaitFor(`document.querySelector("[name=once]").value === "once-B4-03-200"`)
	tab.Shot("right")
	tab.Axe()

	scan("B5-11")
	tab.WaitFor(aloud + `.includes("Wrong: B5-11 is on hold since Sun 04:15.")`)
	tab.WaitFor(`document.querySelector("#slab").textContent.trim() === ""`)
	tab.Shot("wrong")
	// The refused tag stands selected, so the next scan types over it.
	scan("B4-03")
	tab.WaitFor(aloud + `.includes("Right: B4-03")`)

	once := browsertest.Eval[string](tab, `document.querySelector("[name=once]").value`)
	scan("down")
	tab.WaitFor(`document.querySelector("[data-scan-failed]")?.textContent === "Something broke on our side"`)
	scan("cut")
	tab.WaitFor(`document.querySelector("[data-scan-failed]").textContent.startsWith("No signal")`)
	tab.Shot("no-signal")
	if browsertest.Eval[bool](tab, `document.querySelector("main").innerText.includes("B4-03")`) {
		t.Error("the last tag's answer still stands beside the lost one's")
	}
	if got := browsertest.Eval[string](tab, box+`.value + " " + document.querySelector("[name=once]").value`); got != "cut "+once {
		t.Errorf("after a lost answer the box and token are %q, want the same for the next try: %q", got, "cut "+once)
	}
	if now := browsertest.Eval[float64](tab, `performance.timeOrigin`); now != began {
		t.Error("the page was loaded anew between scans")
	}

	// The Tab key leads out of the box (WCAG 2.2, 2.1.2: no keyboard trap).
	tab.Do(chromedp.KeyEvent(kb.Tab))
	tab.WaitFor(`document.activeElement.matches("form[data-scan-form] button")`)
	// A touch beside everything gives the box back its focus.
	tab.Do(chromedp.Click(chromedp.CSS("h1")))
	tab.WaitFor(`document.activeElement === ` + box)
}

func TestScanningWithoutScripts(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	tab := b.Tab(t, browsertest.Phone)
	tab.NoScript()
	tab.Open("/staff/bench")
	tab.Do(chromedp.SendKeys(chromedp.CSS("[data-scan]"), "B4-03"+kb.Enter), chromedp.WaitVisible(chromedp.CSS(".right")))
	text, err := chromedp.Run(tab.Context(), chromedp.Text(chromedp.CSS("#result")))
	if err != nil || text != "Right: B4-03 is on C2." {
		t.Errorf("the page says %q, %v", text, err)
	}
}

func TestMenuOnAPhone(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	tab := b.Tab(t, browsertest.SmallPhone)
	tab.NoScript()
	for path, side := range map[string]int64{"/staff/today": 48, "/staff/bench": 126} {
		tab.Open(path)
		tab.Do(chromedp.Click(chromedp.CSS(".menu summary")), chromedp.WaitVisible(chromedp.CSS(".menu a[href='/staff/shelf']")))
		tab.Shot("menu" + path[len("/staff/"):])
		tab.Fits()
		tab.Target(".menu nav ul, .menu > form", side)
	}
}
