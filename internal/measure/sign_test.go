package measure_test

import (
	"testing"

	"settlemark/internal/measure"
)

func TestSigns(t *testing.T) {
	if got := measure.Signs("6.08 mPa.s at 25 degC, or 0.006 Pa.s"); got != "6.08 mPa·s at 25 °C, or 0.006 Pa·s" {
		t.Error(got)
	}
	if measure.Sign("mPa.s") != "mPa·s" || measure.Sign("kPa") != "kPa" {
		t.Error("a unit is printed wrong")
	}
}
