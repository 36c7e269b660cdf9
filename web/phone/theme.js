// Paints the chosen theme before anything else: at night no white may flash.
{
	const chosen = (key) => document.cookie.match(new RegExp("(?:^|; )" + key + "=([a-z]+)"))?.[1];
	const theme = ["sun", "dusk", "night"].includes(chosen("theme")) ? chosen("theme") : "sun";
	const root = document.documentElement;
	root.dataset.theme = theme;
	root.className = chosen("hand") === "left" ? "left" : "";
	root.style.background = { sun: "#ffffff", dusk: "#0b0d0f", night: "#000000" }[theme];
}
