package numeric

import (
	"math"
	"testing"

	cv "soakline/testdata/checkvalues"
)

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

// Indometh, subject 1, by R 4.2.2 nls with SSbiexp (at the head of the file); rates there,
// time constants here.
func TestBiexponential(t *testing.T) {
	rows := cv.Read(t, "biexponential.csv")
	e, err := FitExponentials(cv.Column(rows, "", "", "t"), cv.Column(rows, "", "", "y"), 2, false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "A1", e.Amp[0], 2.0292774364, 5e-6)
	near(t, "A2", e.Amp[1], 0.1915474553, 5e-6)
	near(t, "lrc1", -math.Log(e.Tau[0]), 0.5793886912, 5e-6)
	near(t, "lrc2", -math.Log(e.Tau[1]), -1.7877848828, 5e-6)
	near(t, "RSS", e.RSS, 0.01178201394, 1e-8)
	s2 := e.RSS / 7
	for i, want := range []float64{0.1099027911, 0.1106264538, 0.1246533454, 0.7871281075} {
		near(t, "se", math.Sqrt(e.Cov[i][i]*s2), want, 1e-4)
	}
}

// NIST StRD MGH17 (two exponentials and a constant) and Lanczos3 (three) by variable
// projection, without their published starts.
func TestExponentialsNIST(t *testing.T) {
	data := cv.Read(t, "nist_nls_data.csv")
	x, y := cv.Column(data, "dataset", "MGH17", "x"), cv.Column(data, "dataset", "MGH17", "y")
	e, err := FitExponentials(x, y, 2, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "MGH17 b1", e.Const, 3.7541005211e-1, 1e-6)
	near(t, "MGH17 1/b4", e.Tau[1], 1/1.2867534640e-2, 1e-6)
	near(t, "MGH17 1/b5", e.Tau[0], 1/2.2122699662e-2, 1e-6)
	near(t, "MGH17 RSS", e.RSS, 5.4648946975e-5, 1e-8)
	x, y = cv.Column(data, "dataset", "Lanczos3", "x"), cv.Column(data, "dataset", "Lanczos3", "y")
	if e, err = FitExponentials(x, y, 3, false); err != nil {
		t.Fatal(err)
	}
	near(t, "Lanczos3 1/b2", e.Tau[2], 1/9.5498101505e-1, 1e-4)
	near(t, "Lanczos3 RSS", e.RSS, 1.6117193594e-8, 1e-6)
	if v := e.At(0.5); math.Abs(v-y[10]) > 1e-3 {
		t.Errorf("value at 0.5: %g, data %g", v, y[10])
	}
}

func TestExponentialsNonsense(t *testing.T) {
	if _, err := FitExponentials([]float64{0, 1}, []float64{1, 2}, 2, true); err == nil {
		t.Error("two values cannot carry five parameters")
	}
}
