package shoot

import (
	"fmt"
	"strings"
)

// Signed writes a value with its sign and so many decimals. What rounds to nothing has no sign.
func Signed(v float64, decimals int) string {
	text := fmt.Sprintf("%+.*f", decimals, v)
	if strings.Trim(text, "+-0.") == "" {
		return text[1:]
	}
	return text
}
