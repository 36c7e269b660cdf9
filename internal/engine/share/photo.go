package share

import (
	"encoding/binary"
	"fmt"
)

// clean reads the segments of a JPEG and refuses one that carries anything besides the picture: metadata, a comment, a second picture
// or bytes after its end. Segment codes as in ITU-T T.81, table B.1.
func clean(b []byte) error {
	if len(b) < 4 || b[0] != 0xff || b[1] != 0xd8 {
		return fmt.Errorf("it is no JPEG picture")
	}
	for i := 2; ; {
		if i+4 > len(b) || b[i] != 0xff {
			return fmt.Errorf("its parts cannot be told apart")
		}
		code, n := b[i+1], int(binary.BigEndian.Uint16(b[i+2:]))
		switch {
		case code == 0xda:
			return scanned(b[min(len(b), i+2+n):])
		case code == 0xe0 || code == 0xdb || code == 0xc0 || code == 0xc4 || code == 0xdd: // JFIF, tables, frame, restart interval
		default:
			return fmt.Errorf("it carries a part %02X that is no picture", code)
		}
		if code == 0xe0 && n > 16 {
			return fmt.Errorf("it carries a second picture")
		}
		if n < 2 || i+2+n > len(b) {
			return fmt.Errorf("it ends too early")
		}
		i += 2 + n
	}
}

// scanned reads the picture's own bytes to their end, after which nothing may come.
func scanned(b []byte) error {
	for i := 0; i+1 < len(b); i++ {
		if b[i] != 0xff {
			continue
		}
		switch c := b[i+1]; {
		case c == 0x00 || c >= 0xd0 && c <= 0xd7: // a byte of 255, a restart
		case c == 0xd9 && i+2 == len(b):
			return nil
		case c == 0xd9:
			return fmt.Errorf("%d bytes follow its end", len(b)-i-2)
		default:
			return fmt.Errorf("it carries a part %02X among the picture", c)
		}
		i++
	}
	return fmt.Errorf("it ends too early")
}
