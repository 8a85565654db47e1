# Phrases entières : ce que disent les règles, les raisons du journal et les refus. Le nom est la phrase anglaise.

larvae-crawl-out-near-46-to-48-c-they-are-knocked-down-and-die =
    Les larves s’échappent. Vers 46 à 48 °C, elles sont terrassées et meurent.
spread-or-split-the-substrate-so-that-it-is-shallow-stir-it-and-blow-air-over-it-do-not-feed-until-it-is-below-40-c =
    Étaler ou partager le substrat pour qu’il soit peu épais, le remuer et souffler de l’air dessus. Ne pas nourrir avant qu’il soit sous 40 °C.
growth-stands-still-and-the-bin-may-go-on-to-the-heat-that-kills =
    La croissance s’arrête, et le bac peut aller jusqu’à la chaleur qui tue.
look-at-the-bin-stir-it-make-it-shallower-and-give-it-more-air-hold-the-next-feed-back =
    Aller voir le bac : le remuer, réduire son épaisseur et lui donner plus d’air. Retarder le prochain repas.
prepupae-pupae-and-eggs-cannot-leave-the-heat-they-die-or-no-fly-emerges =
    Les prépupes, les pupes et les œufs ne peuvent pas fuir la chaleur : ils meurent, ou aucune mouche n’émerge.
spread-the-substrate-so-that-it-is-shallow-and-move-the-bin-to-the-coolest-place-blow-air-over-it =
    Étaler le substrat pour qu’il soit peu épais, et porter le bac à l’endroit le plus frais. Souffler de l’air dessus.
when-it-lasts-hardly-any-of-these-animals-becomes-a-fly =
    Si cela dure, presque aucun de ces animaux ne devient une mouche.
move-the-bin-to-a-cooler-place-make-it-shallower-and-give-it-more-air =
    Porter le bac à un endroit plus frais, réduire son épaisseur et lui donner plus d’air.
at-the-present-trend-the-bin-comes-to-its-high-limit-before-you-can-react-to-it =
    À la tendance actuelle, le bac arrive à sa limite haute avant que vous puissiez réagir.
eggs-and-hatchlings-cannot-leave-the-heat-they-dry-out-and-die =
    Les œufs et les jeunes larves ne peuvent pas fuir la chaleur : ils sèchent et meurent.
move-the-tray-to-the-coolest-shelf-turn-the-heat-mat-off-and-wet-the-cloth =
    Porter le plateau sur l’étagère la plus fraîche, éteindre le tapis chauffant et mouiller le tissu.
keep-fans-leads-and-plugs-dry-and-off-the-wet-floor-if-a-heater-feeds-this-bin-unplug-it-first =
    Garder ventilateurs, câbles et fiches au sec et loin du sol mouillé. Si un chauffage alimente ce bac, le débrancher d’abord.
keep-fans-leads-and-plugs-dry-and-off-the-wet-floor =
    Garder ventilateurs, câbles et fiches au sec et loin du sol mouillé.
larvae-eat-little-growth-takes-far-longer-and-uneaten-feed-spoils =
    Les larves mangent peu, la croissance dure bien plus longtemps, et la nourriture non mangée se gâte.
cover-the-bin-close-draughts-and-move-it-to-a-warmer-spot-check-that-the-larvae-are-still-feeding =
    Couvrir le bac, supprimer les courants d’air et le mettre à un endroit plus chaud. Vérifier que les larves mangent encore.
use-only-a-heater-with-its-own-cut-out-clear-of-bedding-and-dust-a-licensed-electrician-decides-on-wiring =
    N’utiliser qu’un chauffage avec son propre coupe-circuit, loin de la litière et de la poussière. Un électricien agréé décide du câblage.
go-to-the-bin-now-stir-it-spread-it-blow-air-over-it-and-hold-the-next-feed-back =
    Aller au bac maintenant : le remuer, l’étaler, souffler de l’air dessus et retarder le prochain repas.
the-substrate-falls-below-its-dry-limit-before-the-next-round-larvae-stop-growing =
    Le substrat tombe sous sa limite sèche avant la prochaine tournée. Les larves cessent de grandir.
add-water-in-small-portions-and-stir-it-in-stop-before-water-pools-at-the-bottom =
    Ajouter de l’eau par petites portions et la mélanger. S’arrêter avant que l’eau stagne au fond.
too-dry-to-feed-in-larvae-stop-growing =
    Trop sec pour manger. Les larves cessent de grandir.
squeeze-a-handful-to-confirm-if-no-drop-comes-add-water-in-small-portions-and-stir-it-in =
    Presser une poignée pour confirmer. Si aucune goutte ne vient, ajouter de l’eau par petites portions et la mélanger.
too-wet-no-air-at-the-bottom-larvae-climb-out-and-harvest-cannot-be-sieved =
    Trop humide : pas d’air au fond, les larves grimpent dehors, et la récolte ne peut pas être tamisée.
mix-in-dry-bran-stir-and-leave-the-cover-open-drain-water-that-stands-at-the-bottom =
    Mélanger du son sec, remuer et laisser le couvercle ouvert. Évacuer l’eau qui stagne au fond.
flies-and-young-larvae-die-and-bins-in-this-air-overheat =
    Les mouches et les jeunes larves meurent, et les bacs dans cet air surchauffent.
open-doors-and-vents-start-the-fan-shade-the-roof-and-give-the-flies-water =
    Ouvrir portes et aérations, mettre le ventilateur, ombrager le toit et donner de l’eau aux mouches.
heat-harms-people-too-drink-and-do-not-work-here-alone-unplug-heaters-before-anything-else =
    La chaleur nuit aussi aux personnes : boire, et ne pas travailler ici seul. Débrancher les chauffages avant toute autre chose.
above-this-hardly-any-animal-reaches-the-adult-stage-when-it-lasts =
    Au-dessus de cela, presque aucun animal n’atteint l’état adulte si cela dure.
open-vents-start-the-fan-shade-the-roof-and-look-at-the-bins-for-heat =
    Ouvrir les aérations, mettre le ventilateur, ombrager le toit et vérifier si les bacs chauffent.
keep-fans-leads-and-plugs-dry =
    Garder ventilateurs, câbles et fiches au sec.
flies-stop-laying-eggs-and-young-larvae-stop-developing-and-begin-to-die =
    Les mouches cessent de pondre, les œufs et les jeunes larves cessent de se développer et commencent à mourir.
close-doors-and-vents-cover-cages-and-bins-and-see-whether-the-heater-runs =
    Fermer portes et aérations, couvrir cages et bacs, et voir si le chauffage marche.
never-use-an-open-flame-in-a-closed-room-if-a-heater-or-its-breaker-is-off-find-out-why-before-you-switch-it-on =
    Jamais de flamme nue dans une salle fermée. Si un chauffage ou son disjoncteur est coupé, chercher pourquoi avant de le remettre.
everything-develops-more-slowly-and-few-flies-mate =
    Tout se développe plus lentement, et peu de mouches s’accouplent.
close-draughts-at-dusk-and-set-the-heating-earlier-if-this-comes-back-each-night =
    Supprimer les courants d’air au crépuscule, et avancer le chauffage si cela revient chaque nuit.
flies-live-shorter-and-the-eggs-that-they-lay-dry-out =
    Les mouches vivent moins longtemps, et les œufs qu’elles pondent se dessèchent.
mist-the-cage-lightly-refill-the-water-and-wet-the-floor-of-the-room =
    Brumiser légèrement la cage, remplir l’eau et mouiller le sol de la salle.
keep-mist-away-from-sockets-lamps-and-plugs =
    Tenir la brume loin des prises, des lampes et des fiches.
the-air-is-bad-for-people-who-work-in-it-and-the-room-lacks-fresh-air =
    L’air est mauvais pour ceux qui y travaillent, et la salle manque d’air frais.
open-doors-and-vents-before-you-go-in-and-stay-out-until-it-has-fallen =
    Ouvrir portes et aérations avant d’entrer, et rester dehors jusqu’à ce que cela baisse.
feeling-dizzy-or-short-of-breath-leave-at-once-a-cheap-sensor-never-proves-that-a-room-is-safe =
    En cas de vertige ou de souffle court : sortir aussitôt. Un capteur bon marché ne prouve jamais qu’une salle est sûre.
ammonia-burns-eyes-and-lungs-of-people-and-tells-of-substrate-that-rots =
    L’ammoniac brûle les yeux et les poumons, et signale un substrat qui pourrit.
open-doors-and-vents-before-you-go-in-then-find-the-bin-that-smells-dry-it-with-bran-and-stir-it =
    Ouvrir portes et aérations avant d’entrer. Puis chercher le bac qui sent, le sécher avec du son et le remuer.
people-get-used-to-the-smell-smell-is-not-a-monitor-and-a-cheap-sensor-never-proves-that-a-room-is-safe =
    On s’habitue à l’odeur : l’odorat n’est pas un moniteur, et un capteur bon marché ne prouve jamais qu’une salle est sûre.
eggs-dry-out-and-do-not-hatch =
    Les œufs se dessèchent et n’éclosent pas.
wet-the-cloth-or-the-bran-beneath-the-eggs-cover-the-tray-and-close-the-draught-do-not-spray-the-eggs-themselves =
    Mouiller le tissu ou le son sous les œufs, couvrir le plateau et supprimer le courant d’air. Ne pas asperger les œufs eux-mêmes.
keep-water-away-from-heat-mats-sockets-and-plugs =
    Tenir l’eau loin des tapis chauffants, des prises et des fiches.
fewer-eggs-hatch =
    Moins d’œufs éclosent.
wet-the-cloth-or-the-bran-beneath-the-eggs-and-cover-the-tray =
    Mouiller le tissu ou le son sous les œufs, et couvrir le plateau.
eggs-and-hatchlings-dry-out-and-die =
    Les œufs et les jeunes larves se dessèchent et meurent.
move-the-tray-to-a-cooler-shelf-turn-the-heat-mat-down-and-wet-the-cloth =
    Mettre le plateau sur une étagère plus fraîche, baisser le tapis chauffant et mouiller le tissu.
unplug-the-mat-before-you-touch-it-with-wet-hands =
    Débrancher le tapis avant de le toucher avec les mains mouillées.
hatching-is-late-and-eggs-stay-longer-at-risk-of-drying-and-mould =
    L’éclosion est tardive, et les œufs restent plus longtemps exposés au dessèchement et à la moisissure.
move-the-tray-to-a-warmer-shelf-close-the-draught-and-see-whether-the-heat-mat-works =
    Mettre le plateau sur une étagère plus chaude, supprimer le courant d’air et voir si le tapis chauffant marche.
warm-and-dry-together-draw-water-from-the-eggs-even-where-humidity-alone-looks-fair =
    Chaud et sec ensemble tirent l’eau des œufs, même quand l’humidité seule paraît correcte.
wet-the-cloth-beneath-the-eggs-and-cover-the-tray-or-lower-its-temperature =
    Mouiller le tissu sous les œufs et couvrir le plateau, ou baisser sa température.
drops-form-on-the-lid-or-wall-and-fall-on-eggs-and-hatchlings-mould-follows =
    Des gouttes se forment sur le couvercle ou la paroi et tombent sur les œufs et les jeunes larves ; la moisissure suit.
lift-the-lid-a-little-wipe-it-dry-and-keep-the-tray-off-the-cold-wall =
    Soulever un peu le couvercle, l’essuyer et tenir le plateau loin de la paroi froide.
pupae-die-hardly-any-fly-emerges-when-this-lasts =
    Les nymphes meurent : presque aucune mouche n’émerge si cela dure.
move-the-box-to-the-coolest-dark-place-open-its-cover-and-give-it-air =
    Mettre la caisse à l’endroit sombre le plus frais, ouvrir son couvercle et lui donner de l’air.
fewer-flies-emerge =
    Moins de mouches émergent.
move-the-box-to-a-cooler-place-and-keep-it-shaded =
    Mettre la caisse à un endroit plus frais, et la garder à l’ombre.
emergence-is-late =
    L’émergence est tardive.
move-the-box-to-a-warmer-place-and-close-the-draught =
    Mettre la caisse à un endroit plus chaud, et supprimer le courant d’air.
use-only-a-heater-with-its-own-cut-out-clear-of-dry-bedding-and-dust =
    N’utiliser qu’un chauffage avec son propre coupe-circuit, loin de la litière sèche et de la poussière.
pupae-dry-out-and-flies-emerge-with-crumpled-wings-or-not-at-all =
    Les nymphes se dessèchent, et les mouches émergent avec des ailes froissées ou pas du tout.
mist-the-medium-lightly-and-cover-the-box-damp-is-enough-wet-brings-mould =
    Brumiser légèrement le milieu et couvrir la caisse. Humide suffit, mouillé amène la moisissure.
power-or-network-has-probably-failed-most-nodes-fell-silent-within-three-minutes-fans-and-heaters-may-be-off-too-and-nothing-is-watched-until-it-is-back =
    Le courant ou le réseau est probablement coupé : la plupart des cartes se sont tues en trois minutes. Ventilateurs et chauffages sont peut-être aussi arrêtés, et rien n’est surveillé jusqu’au retour.
go-and-look-whether-the-rooms-have-power-if-they-do-look-at-the-network-box-then-check-the-bins-and-trays-by-hand =
    Aller voir si les salles ont du courant. Si oui, regarder le boîtier du réseau ; puis vérifier les bacs et les plateaux à la main.
do-not-open-a-board-or-a-plug-that-is-wet-mains-supply-is-work-for-a-licensed-electrician =
    Ne pas ouvrir une carte ou une fiche mouillée. Le secteur est l’affaire d’un électricien agréé.
readings-are-not-being-kept-alarms-go-on-from-memory-but-a-restart-would-forget-them =
    Les mesures ne sont pas conservées. Les alarmes continuent de mémoire, mais un redémarrage les oublierait.
run-rearing-monitor-check-on-the-computer-it-says-whether-the-disk-is-full-or-the-file-damaged-and-how-to-mend-it =
    Lancer `rearing-monitor check` sur l’ordinateur : il dit si le disque est plein ou le fichier abîmé, et comment réparer.
messages-do-not-reach-anybody-the-sounder-and-this-computer-still-tell =
    Les messages n’arrivent à personne. La sirène et cet ordinateur avertissent encore.
look-whether-the-internet-works-if-it-does-run-rearing-monitor-send-test-and-read-what-it-says =
    Voir si internet marche. Si oui, lancer `rearing-monitor send-test` et lire ce qu’il dit.
nothing-that-was-written-since-the-last-good-copy-would-be-left-if-this-computer-or-its-memory-card-failed =
    Rien de ce qui a été écrit depuis la dernière bonne copie ne resterait si cet ordinateur ou sa carte mémoire tombait en panne.
see-whether-the-stick-or-disk-for-the-copies-is-plugged-in-and-has-room-then-run-rearing-monitor-backup-on-the-computer-it-says-what-is-wrong =
    Voir si la clé ou le disque des copies est branché et a de la place. Puis lancer `rearing-monitor backup` sur l’ordinateur : il dit ce qui ne va pas.
one-place-for-copies-has-had-none-for-days-if-the-others-were-lost-together-with-this-computer-nothing-that-was-written-since-would-be-left =
    Un endroit n’a pas reçu de copie depuis des jours. Si les autres étaient perdus avec cet ordinateur, il ne resterait rien de ce qui a été écrit depuis.
run-rearing-monitor-backup-on-the-computer-it-says-which-place-it-is-and-what-is-wrong-there =
    Lancer `rearing-monitor backup` sur l’ordinateur : il dit quel endroit c’est et ce qui n’y va pas.
the-archive-does-not-have-all-readings-nothing-is-lost-they-are-kept-on-this-computer =
    L’archive n’a pas toutes les mesures. Rien n’est perdu : elles sont gardées sur cet ordinateur.
see-whether-the-archive-server-runs-and-the-network-reaches-it-rearing-monitor-nodes-shows-its-last-answer =
    Voir si le serveur d’archive tourne et si le réseau l’atteint ; `rearing-monitor nodes` montre sa dernière réponse.
nobody-is-watching-what-this-node-measures =
    Personne ne surveille ce que cette carte mesure.
look-at-its-supply-its-lead-and-its-light-if-it-lives-look-at-the-network-until-it-is-back-check-the-place-by-hand =
    Regarder son alimentation, son câble et son voyant. Si elle vit, regarder le réseau ; d’ici son retour, vérifier le lieu à la main.
nobody-is-watching-what-this-sensor-measures-the-rest-of-the-board-still-sends =
    Personne ne surveille ce que ce capteur mesure ; le reste de la carte envoie encore.
look-at-the-probe-and-its-cable-pulled-out-wet-bitten-or-loose-until-it-is-mended-check-the-place-by-hand =
    Regarder la sonde et son câble : arraché, mouillé, rongé ou desserré. D’ici la réparation, vérifier le lieu à la main.
the-node-will-fall-silent-within-days =
    La carte se taira dans quelques jours.
change-or-charge-its-battery-on-the-next-round =
    Changer ou charger sa pile à la prochaine tournée.
use-a-cell-of-the-type-that-the-holder-names-and-do-not-charge-one-that-is-swollen-or-warm =
    Utiliser une pile du type que nomme le support, et ne pas charger une pile gonflée ou chaude.
the-feed-beneath-the-eggs-falls-below-its-dry-limit-hatchlings-dry-out-first =
    La nourriture sous les œufs tombe sous sa limite sèche. Les jeunes larves se dessèchent les premières.
sprinkle-water-beside-the-eggs-not-on-them-in-small-portions =
    Verser de l’eau à côté des œufs, pas dessus, par petites portions.
a-low-alarm-is-acknowledged-by-clearing =
    une alarme faible est vue dès qu’elle se termine
the-place-is-suppressed-by-design =
    le lieu est exclu à dessein
its-shelf-still-runs =
    sa mise de côté court encore
still-out-of-limits =
    toujours hors des limites
it-was-said-that-no-animals-are-in-it =
    il a été dit qu’il n’y a pas d’animaux dedans
farm-toml-says-that-no-animals-are-in-it =
    farm.toml dit qu’il n’y a pas d’animaux dedans
if-animals-are-in-it-nobody-is-warned-when-they-get-too-hot-or-too-dry =
    S’il y a des animaux, personne n’est averti quand il fait trop chaud ou trop sec.
look-into-it-if-animals-are-in-it-say-so-on-the-page-of-the-place-or-place-in-use =
    Aller voir. S’il y a des animaux, le dire : sur la page du lieu, ou `place in-use`.
the-board-was-put-aside-for-a-while =
    la carte a été mise de côté pour un moment
the-place-was-put-aside-for-a-while =
    le lieu a été mis de côté pour un moment
the-bin-is-finishing-and-meant-to-dry =
    le bac est en fin de cycle et doit sécher
its-setpoint-was-changed-or-its-place-newly-filled-a-short-while-ago =
    son seuil a changé ou son lieu vient d’être rempli
the-place-is-in-use =
    le lieu est utilisé
the-high-limit-itself-is-passed-and-its-own-alarm-stands =
    la limite haute elle-même est passée, et sa propre alarme est là
one-alarm-about-power-or-network-stands-for-it =
    une seule alarme, sur le courant ou le réseau, en tient lieu
it-came-anew-after-it-was-looked-at-so-it-still-waits-to-be-acknowledged =
    elle est revenue après avoir été regardée : elle attend encore d’être vue
nothing-guards-what-these-boards-are-to-measure-they-have-never-been-heard =
    Rien ne surveille ce que ces cartes doivent mesurer. Elles n’ont jamais été reçues.
hang-them-up-and-give-them-power-or-take-out-of-the-settings-what-is-not-wanted-the-page-boards-shows-each-until-then-look-at-their-places-by-hand =
    Les accrocher et leur donner du courant, ou ôter du fichier de réglages celles dont on ne veut pas. La page Cartes montre chacune. D’ici là, vérifier leurs lieux à la main.
it-was-never-heard-one-alarm-names-all-such-boards =
    elle n’a jamais été reçue ; une seule alarme nomme toutes ces cartes
the-logbook-says-that-the-bin-is-finishing-and-meant-to-dry =
    d’après le journal, le bac est en fin de cycle et doit sécher
the-bin-is-in-use =
    le bac est utilisé
the-reading-is-marked-suspect =
    la mesure est marquée douteuse
not-known-when-it-sent-while-the-monitor-was-away-the-time-of-arrival-was-used =
    on ne sait pas quand elle a envoyé pendant que le moniteur était absent ; l’heure d’arrivée est prise
