package store

import "testing"

// What begins a formula in a spreadsheet is led by a stroke (CWE-1236; OWASP's list of
// signs: = + - @, tabulator, line ends, and the wide forms); plain words stay as they are.
func TestNoFormulaInASpreadsheet(t *testing.T) {
	for typed, want := range map[string]string{
		"": "", "Imke": "Imke", "K28": "K28", " Imke": " Imke", "50 % back - half": "50 % back - half",
		"=1+1": "'=1+1", "+1 555 0190": "'+1 555 0190", "-2": "'-2", "@SUM(A1)": "'@SUM(A1)",
		" =1+1": "' =1+1", "\u00a0=1+1": "'\u00a0=1+1", "\t=1": "'\t=1", "\rx": "'\rx", "\nx": "'\nx", "＝1+1": "'＝1+1", "＠x": "'＠x",
	} {
		if got := harmless(typed); got != want {
			t.Errorf("harmless(%q) = %q, want %q", typed, got, want)
		}
	}
}
