package num

// Tridiagonal solves lo[i] x[i-1] + di[i] x[i] + up[i] x[i+1] = rh[i] by the forward and backward sweep without pivoting,
// which is stable for the diagonally dominant systems of conduction. di and rh are overwritten; lo[0] and up[n-1] are not
// used. It allocates nothing; gonum's pivoting solver takes about twice the time.
//
// Source: L. H. Thomas, Elliptic Problems in Linear Differential Equations over a Network (1949) (from memory).
func Tridiagonal(lo, di, up, rh, x []float64) {
	n := len(di)
	lo, up, rh, x = lo[:n], up[:n], rh[:n], x[:n]
	for i := 1; i < n; i++ {
		w := lo[i] / di[i-1]
		di[i] -= w * up[i-1]
		rh[i] -= w * rh[i-1]
	}
	x[n-1] = rh[n-1] / di[n-1]
	for i := n - 2; i >= 0; i-- {
		x[i] = (rh[i] - up[i]*x[i+1]) / di[i]
	}
}
