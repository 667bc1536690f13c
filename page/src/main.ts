import { mount } from "svelte";

import "./look.css";
import App from "./view/App.svelte";

const target = document.getElementById("page");
if (target) mount(App, { target });
