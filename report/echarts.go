//go:build !js

package report

import _ "embed" // the chart library

//go:embed assets/echarts.common.min.js
var echartsText string

//go:embed assets/echarts-NOTICE.txt
var echartsNotice string

//go:embed assets/echarts-LICENSE.txt
var echartsLicense string

//go:embed assets/echarts-LICENSE-d3.txt
var echartsLicenseD3 string
