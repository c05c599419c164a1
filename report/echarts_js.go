package report

// A page in a browser has the chart library already.
var echartsText, echartsNotice, echartsLicense, echartsLicenseD3 string
