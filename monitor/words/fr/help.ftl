# Aide des commandes et de leurs options. Le nom est la phrase anglaise.

watches-the-climate-where-your-insects-live-and-wakes-you-when-they-need-you =
    Surveille le climat où vivent vos insectes, et vous réveille quand ils ont besoin de vous.
to-see-it-work-without-sensors-bold-rearing-monitor-demo-bold =
    Pour le voir au travail sans capteurs : [bold]rearing-monitor demo[/bold]
to-start-with-your-own-farm-bold-rearing-monitor-init-bold-then-bold-rearing-monitor-check-bold-then-bold-rearing-monitor-run-bold =
    Pour commencer avec votre élevage : [bold]rearing-monitor init[/bold], puis [bold]rearing-monitor check[/bold], puis [bold]rearing-monitor run[/bold]
exit-codes-0-fine-1-now-says-that-something-is-wrong-2-wrong-use-or-settings-3-database-4-broker-5-anything-else-130-stopped-with-ctrl-c =
    Codes de sortie : 0 tout va bien ; 1 `now` dit que quelque chose ne va pas ; 2 mauvais usage ou réglages ; 3 base de données ; 4 broker ; 5 autre chose ; 130 arrêté par Ctrl-C.
print-the-version = Afficher la version.
show-this-message-and-exit = Afficher cette aide.
arguments = Arguments
options = Options
example = Exemple :
examples = Exemples :
run = Faire tourner
set-up = Préparer
look = Regarder
act = Agir
data = Données
see-the-program-at-work-on-an-invented-farm-simulated-sensors-real-messages-no-hardware-needed =
    Voir le programme au travail sur un élevage inventé : capteurs simulés, vrais messages, aucun matériel nécessaire.
guard-your-farm-take-readings-from-the-broker-watch-them-and-wake-you-when-it-must-be =
    Surveiller votre élevage : prendre les mesures du broker, les suivre, et vous réveiller quand il le faut.
write-a-settings-file-for-your-farm-by-answering-a-few-questions =
    Écrire un fichier de réglages pour votre élevage en répondant à quelques questions.
say-what-is-wrong-in-the-settings-what-is-doubtful-and-what-each-place-is-guarded-for =
    Dire ce qui ne va pas dans les réglages, ce qui est douteux, et contre quoi chaque lieu est surveillé.
say-whether-anything-is-wrong-now-place-by-place-the-worst-first =
    Dire si quelque chose ne va pas maintenant, lieu par lieu, le pire d’abord.
show-the-report-of-a-night-lowest-and-highest-values-alarms-gaps-boards-to-look-after =
    Montrer le rapport d’une nuit : valeurs extrêmes, alarmes, trous, cartes dont s’occuper.
show-each-board-last-heard-battery-faults-missing-messages-calibration =
    Montrer chaque carte : dernier message, pile, défauts, messages manquants, étalonnage.
show-the-alarms-that-are-active-shelved-or-out-of-service-with-what-to-do-and-what-to-beware-of =
    Montrer les alarmes actives, mises de côté ou hors service, avec que faire et à quoi prendre garde.
say-when-each-cohort-hatches-crawls-off-rests-and-emerges-and-what-that-rests-on =
    Dire quand chaque lot éclot, migre, se nymphose et émerge, et sur quoi cela repose.
say-how-many-flies-will-live-in-each-love-cage-day-by-day-and-what-closes-a-gap-before-it-opens =
    Dire combien de mouches vivront dans chaque cage de ponte jour par jour, et ce qui comble un creux avant qu’il vienne.
show-what-this-farm-has-taught-its-own-numbers-beside-those-from-papers-and-past-forecasts =
    Montrer ce que cet élevage a appris : ses propres nombres à côté de ceux des publications, et les prévisions passées.
say-that-you-know-of-an-alarm-and-look-after-it-nobody-else-is-told-nobody-is-reminded =
    Dire que vous connaissez une alarme et vous en occupez : personne d’autre n’est prévenu ni relancé.
put-an-alarm-aside-for-a-while-because-you-know-of-it-and-work-on-it-it-comes-back-by-itself =
    Mettre une alarme de côté un moment, parce que vous la connaissez et y travaillez. Elle revient d’elle-même.
take-an-alarm-from-the-shelf-before-its-time-is-over =
    Reprendre une alarme mise de côté avant la fin de son temps.
take-an-alarm-out-of-service-for-a-broken-sensor-say-it-stays-out-until-you-put-it-back =
    Mettre une alarme hors service, pour un capteur cassé par exemple. Elle le reste jusqu’à ce que vous la remettiez.
put-an-alarm-back-into-service = Remettre une alarme en service.
keep-the-logbook-of-cohorts-begin-move-saw-end =
    Tenir le journal des lots : début, déplacement, observation, fin.
bins-and-trays-fill-water-weigh-how-long-until-dry-and-how-many-litres-they-need =
    Bacs et plateaux : remplir, arroser, peser ; dans combien de temps ils sont secs, et combien de litres il leur faut.
send-a-test-message-to-each-person-in-the-settings-and-say-whether-it-was-taken =
    Envoyer un message d’essai à chaque personne des réglages, et dire s’il a été pris.
enter-a-calibration-from-one-point-shift-or-two-points-shift-and-slope-or-list-those-entered =
    Entrer un étalonnage à un point (décalage) ou deux points (décalage et pente), ou lister ceux qui sont entrés.
calibrate-a-moisture-probe-against-an-oven-at-four-moistures-or-more-of-the-substrate-it-stands-in =
    Étalonner une sonde d’humidité à l’étuve, à quatre humidités ou plus du substrat où elle se trouve.
take-the-readings-of-a-logger-s-csv-file-into-the-database-and-say-what-was-taken-and-what-was-not =
    Prendre dans la base les mesures du fichier CSV d’un enregistreur, et dire ce qui a été pris ou non.
send-the-readings-of-a-logger-s-csv-file-to-the-broker-as-if-the-board-were-sending-them-now =
    Envoyer au broker les mesures du fichier CSV d’un enregistreur, comme si la carte les envoyait maintenant.
fetch-from-the-archive-the-readings-that-the-database-lacks-after-a-loss-or-a-restored-copy =
    Récupérer de l’archive les mesures qui manquent à la base, après une perte ou une copie remise en place.
what-is-stored-already-stays-as-it-is-the-monitor-may-go-on-meanwhile-it-can-be-broken-off-and-given-again-it-goes-on-where-it-was =
    Ce qui est déjà dans la base reste tel quel. Le moniteur peut continuer pendant ce temps. La commande peut être interrompue et redonnée : elle reprend là où elle en était.
write-readings-as-a-csv-file-that-a-spreadsheet-opens-times-are-utc-values-as-the-sensors-sent-them =
    Écrire les mesures dans un fichier CSV qu’ouvre un tableur. Les heures sont en UTC, les valeurs telles que les capteurs les ont envoyées.
copy-the-whole-site-while-the-monitor-goes-on-and-check-the-copy-restore-is-the-way-back =
    Copier tout le site pendant que le moniteur continue, et vérifier la copie ; `restore` est le chemin du retour.
days-go-by-in-seconds-the-folder-is-kept-so-that-you-can-look-into-it-with-the-other-commands =
    Les jours passent en secondes. Le dossier est gardé, pour que vous puissiez y regarder avec les autres commandes.
how-many-days-of-the-farm-s-life-to-play = Nombre de jours de la vie de l’élevage à jouer.
another-number-plays-another-weather = Un autre nombre joue une autre météo.
where-its-database-and-messages-go-without-it-a-new-temporary-folder =
    Où vont sa base et ses messages. Sans cela : un nouveau dossier temporaire.
serve-the-page-for-the-phone = Servir la page pour le téléphone.
go-on-in-real-time-afterwards-for-the-page-until-ctrl-c-without-it-if-a-person-is-at-the-terminal =
    Continuer ensuite en temps réel, pour la page, jusqu’à Ctrl-C. Sans cela : si une personne est au terminal.
it-runs-until-it-is-stopped-ctrl-c-or-the-service-manager-and-writes-what-happens-to-the-terminal-after-a-change-of-the-settings-kill-hup-of-its-process-makes-it-read-them-again-wrong-ones-change-nothing =
    Tourne jusqu’à ce qu’on l’arrête (Ctrl-C, ou le gestionnaire de services) et écrit ce qui se passe au terminal. Après un changement des réglages, `kill -HUP` de son processus les fait relire ; des réglages faux ne changent rien.
the-settings-file-without-it-farm-toml-here-the-one-in-your-own-settings-folder-or-that-of-the-installed-service =
    Le fichier de réglages. Sans cela : farm.toml ici, celui de votre dossier de réglages, ou celui du service installé.
every-key-stands-in-it-with-its-meaning-its-unit-and-its-default-for-changes-by-hand-later =
    Chaque clé y figure avec son sens, son unité et sa valeur par défaut, pour les changements à la main plus tard.
ask-nothing-take-options-and-proposals = Ne rien demander ; prendre les options et les propositions.
replace-a-file-that-is-there-the-old-one-is-kept-beside-it =
    Remplacer un fichier qui est là ; l’ancien est gardé à côté.
name-of-the-farm = Nom de l’élevage.
time-zone-of-the-farm-else-that-of-this-computer = Fuseau horaire de l’élevage ; sinon celui de cet ordinateur.
height-above-sea-level = Altitude.
how-many-love-cages = Nombre de cages de ponte.
how-many-hatching-trays = Nombre de plateaux d’éclosion.
how-many-grow-out-bins = Nombre de bacs d’élevage.
how-many-pupation-boxes = Nombre de caisses de nymphose.
computer-on-which-a-broker-runs-already-else-this-program-runs-one-itself =
    Ordinateur sur lequel tourne déjà un broker ; sinon ce programme en fait tourner un.
where-messages-go-as-an-apprise-address = Où vont les messages, sous forme d’adresse apprise.
take-the-address-from-rearing-owner-address-at-every-start =
    Prendre l’adresse dans REARING_OWNER_ADDRESS à chaque démarrage.
print-json-for-other-programs-instead-of-text = Afficher du JSON pour d’autres programmes au lieu de texte.
print-only-what-is-wrong = N’afficher que ce qui ne va pas.
ends-with-0-when-all-is-fine-ends-with-1-when-something-needs-you-an-alarm-stands-a-value-is-beyond-a-limit-nothing-is-known-of-a-place-or-the-monitor-itself-does-not-run =
    Finit par 0 si tout va bien. Finit par 1 si quelque chose a besoin de vous : une alarme est là, une valeur est hors d’une limite, on ne sait rien d’un lieu, ou le moniteur lui-même ne tourne pas.
signs-high-medium-low-beyond-a-limit-not-guarded-unknown-fine-empty = Signes : ▲ haute, ◆ moyenne, ● basse, △ hors d’une limite, ! non surveillé, ? inconnu, ○ bien, – vide.
the-morning-on-which-the-night-ended-without-it-the-running-night-by-day-the-last-one =
    Le matin où la nuit a fini. Sans cela : la nuit en cours, de jour la dernière.
boards-that-were-heard-but-stand-in-no-table-of-the-settings-come-last-with-the-lines-to-add =
    Les cartes reçues qui ne sont dans aucune table des réglages viennent en dernier, avec les lignes à ajouter.
the-number-in-front-of-an-alarm-is-its-short-name-for-ack-shelve-and-the-like =
    Le nombre devant une alarme est son nom court pour `ack`, `shelve` et les autres.
every-alarm-that-the-settings-make-with-its-number = Toutes les alarmes que font les réglages, avec leur numéro.
what-became-of-alarms-came-acknowledged-over = Ce que sont devenues les alarmes : venues, vues, finies.
whether-the-alarms-themselves-are-good-too-many-too-often =
    Si les alarmes elles-mêmes sont bonnes : trop nombreuses, trop fréquentes.
days-back-for-journal-else-7-and-health-else-30 =
    Nombre de jours en arrière, pour --journal (sinon 7) et --health (sinon 30).
one-cohort-left-out-all-that-live = Un lot ; omis : tous ceux qui vivent.
write-an-svg-the-emergence-of-one-cohort-or-the-calendar-of-all =
    Écrire un SVG : l’émergence d’un lot, ou le calendrier de tous.
flies-that-each-cage-should-hold-in-place-of-least-flies =
    Mouches que chaque cage devrait contenir, à la place de least_flies.
days-ahead = Nombre de jours à venir.
the-alarm-itself-stays-until-its-value-is-right-again =
    L’alarme elle-même reste jusqu’à ce que sa valeur soit de nouveau bonne.
its-number-or-name-in-alarms-or-its-place-without-it-the-only-thing-that-waits =
    Son numéro ou nom dans `alarms`, ou son lieu. Sans cela : la seule chose qui attend.
all-that-wait-to-be-acknowledged = Toutes celles qui attendent d’être vues.
who-decides-for-the-journal-without-it-your-user-name =
    Qui décide, pour le journal. Sans cela : votre nom d’utilisateur.
why-for-the-journal = Pourquoi, pour le journal.
its-number-or-name-in-alarms-or-its-place-while-only-one-thing-there-comes-into-question =
    Son numéro ou nom dans `alarms`, ou son lieu si une seule chose y entre en question.
for-how-long-30-min-2-h-1-day-at-most-7-days = Pour combien de temps : 30 min, 2 h, 1 day. Au plus 7 jours.
or-until-when-14-00-tomorrow-06-00 = Ou jusqu’à quand : 14:00, tomorrow 06:00.
begin-a-cohort-eggs-that-were-laid-larvae-hatched-or-bought-prepupae-from-the-ramp-or-pupae =
    Commencer un lot : œufs pondus, larves écloses ou achetées, prépupes de la rampe, ou pupes.
name-of-the-cohort = Nom du lot.
id-of-a-place-in-the-settings = Id d’un lieu des réglages.
what-it-begins-as = Le stade par lequel il commence.
when-it-was-such-as-now-14-30-yesterday-18-00-monday-7-00-8-oct-18-00-8-october-2026-2-hours-ago-2026-11-25-14-30-or-2026-11-25t14-30-02-00-a-day-alone-means-its-noon =
    Quand c’était, comme maintenant, 14:30, hier 18:00, lundi 7:00, 8 oct. 18:00, 8 octobre 2026, il y a 2 heures, 2026-11-25 14:30 ou 2026-11-25T14:30+02:00. Un jour seul veut dire son midi.
end-of-the-time-in-which-it-was-laid-from-at-on = Fin du temps de ponte, qui commence à --at.
weight-in-g-where-no-unit-is-written = Poids, en g quand aucune unité n’est écrite.
number-of-animals = Nombre d’animaux.
where-it-comes-from = D’où il vient.
age-when-bought-or-caught = Âge à l’achat ou à la capture.
how-far-through-its-stage-it-is = Part de son stade déjà passée.
feed-where-the-species-file-has-numbers-for-it = Nourriture, si le fichier d’espèce a des nombres pour elle.
what-it-is-meant-for-flies-for-the-cages-or-feed = À quoi il est destiné : mouches pour les cages, ou aliment.
the-love-cage-its-flies-go-into = La cage de ponte où vont ses mouches.
how-sure-the-day-is-within-so-many-days-two-times-in-three =
    Sûreté du jour : à tant de jours près, deux fois sur trois.
who-says-so-without-it-your-user-name = Qui le dit. Sans cela : votre nom d’utilisateur.
anything-worth-knowing-later = Ce qui vaut d’être su plus tard.
move-a-cohort-to-another-place-now-or-at-another-time-or-plan-to-so-that-forecasts-know =
    Déplacer un lot dans un autre lieu, maintenant ou à un autre moment ; ou le prévoir, pour que les prévisions le sachent.
it-will-be-moved-then-the-time-lies-ahead = Il sera déplacé alors ; le moment est à venir.
take-a-part-of-a-cohort-out-as-a-cohort-of-its-own-such-as-a-share-kept-back-for-breeding =
    Sortir une partie d’un lot comme lot à part, par exemple une part gardée pour la reproduction.
name-of-the-cohort-that-is-taken-out = Nom du lot que l’on sort.
where-the-new-one-lives = Où vit le nouveau.
share-of-it-in-percent = Sa part, en pour cent.
put-another-cohort-of-about-the-same-age-into-this-one =
    Mettre dans celui-ci un autre lot à peu près du même âge.
the-cohort-that-is-put-into-it-and-ends = Le lot qui y est mis, et qui finit.
take-animals-out-of-a-cohort-that-are-not-followed-any-further =
    Retirer d’un lot des animaux qui ne sont plus suivis.
enter-an-event-that-was-seen-it-sharpens-this-forecast-and-those-of-later-cohorts =
    Entrer un événement observé ; il affine cette prévision et celles des lots suivants.
what-was-seen = Ce qui a été vu.
enter-a-number-animals-in-it-now-flies-that-came-out-that-day-or-grams-of-eggs-collected =
    Entrer un nombre : animaux qu’il contient, mouches sorties ce jour-là, ou grammes d’œufs récoltés.
as-what-they-were-counted = Le stade sous lequel ils ont été comptés.
flies-that-came-out-since-the-last-count = Mouches sorties depuis le dernier comptage.
eggs-collected-in-g-where-no-unit-is-written = Œufs récoltés, en g quand aucune unité n’est écrite.
end-a-cohort-all-flies-out-harvested-sold-or-lost-with-a-weight-or-number-where-it-is-known =
    Finir un lot : toutes les mouches sorties, récolté, vendu ou perdu, avec un poids ou un nombre s’il est connu.
how-it-ended = Comment il a fini.
list-the-cohorts-stage-place-age-number-what-they-are-meant-for =
    Lister les lots : stade, lieu, âge, nombre, destination.
those-that-have-ended-too = Aussi ceux qui ont fini.
show-one-cohort-its-forecast-and-every-entry-about-it-the-corrected-ones-too =
    Montrer un lot : sa prévision et chaque entrée à son sujet, aussi celles qui ont été corrigées.
correct-an-entry-or-withdraw-it-what-was-first-written-stays-in-the-logbook =
    Corriger une entrée, ou la retirer. Ce qui a été écrit d’abord reste dans le journal.
number-of-the-entry-from-cohort-show = Numéro de l’entrée, d’après `cohort show`.
the-time-that-is-right = L’heure juste.
a-value-that-is-right-such-as-place-bin-2-repeat-it = Une valeur juste, comme place=bin-2. À répéter.
it-does-not-count-any-more = Elle ne compte plus.
the-notebook-as-csv = Le cahier en CSV.
only-say-what-would-be-written = Dire seulement ce qui serait écrit.
fill-a-bin-what-was-put-in-with-its-moisture-its-size-and-the-larvae =
    Remplir un bac : ce qui y a été mis avec son humidité, sa taille, et les larves.
id-or-title-of-a-bin-tray-or-box-in-the-settings = Id ou titre d’un bac, plateau ou caisse des réglages.
what-was-put-in-once-for-each-3-kg-at-12-800-g-12-or-7-l-for-water-quote-what-has-spaces =
    Ce qui y a été mis, une fois pour chaque : 3 kg at 12 %, 800 g 12 %, ou 7 l pour de l’eau. Mettre entre guillemets ce qui a des espaces.
inner-size-needed-once-for-each-bin-60-x-40-cm-0-24-m2-or-40-cm-round-for-a-bucket =
    Taille intérieure, à donner une fois pour chaque bac : 60 x 40 cm, 0.24 m2, ou 40 cm round pour un seau.
how-deep-it-is-filled-such-as-8-cm = Hauteur de remplissage, comme 8 cm.
what-lies-over-it = Ce qui le couvre.
a-fan-blows-over-it = Un ventilateur souffle dessus.
how-many-larvae-were-put-in = Nombre de larves mises dedans.
days-since-they-hatched-else-5-or-the-cohort-s = Jours depuis leur éclosion ; sinon 5, ou ceux du lot.
cohort-of-the-larvae-which-moves-there-else-they-begin-a-new-one =
    Lot des larves, qui y déménage ; sinon elles en commencent un nouveau.
of-whom-the-larvae-are-a-name-that-is-new-renames =
    De quel lot sont les larves ; un nom nouveau le renomme.
how-the-cohorts-ended-that-lived-in-it =
    Comment les lots qui y vivaient se sont terminés.
weight-of-the-animals-taken-out-such-as-2-1-kg =
    Poids des animaux retirés, par exemple 2.1 kg.
a-cohort-that-stays-in-the-place-repeat-it =
    Un lot qui reste sur place. Peut être répété.
the-bin-was-emptied-its-cohorts-have-ended-and-nothing-is-computed-until-it-is-filled-again =
    Le bac a été vidé : ses lots sont terminés, et rien n’est calculé jusqu’au prochain remplissage.
one-of-chicken-feed-kitchen-waste-wheat-bran = L’un de chicken_feed, kitchen_waste, wheat_bran.
how-deep-its-thermometer-sits = Profondeur de son thermomètre.
the-moisture-is-a-guess-by-the-hand = L’humidité est une estimation à la main.
water-that-was-poured-on = L’eau versée dessus.
such-as-1-5-l-or-300-ml = Comme 1.5 l ou 300 ml.
contents-weighed-afterwards-or-the-mark-it-was-filled-to =
    Contenu pesé ensuite, ou le repère jusqu’auquel il est rempli.
feed-that-was-put-on-with-its-moisture-dry-bran-against-wetness-too =
    La nourriture mise dessus, avec son humidité ; aussi le son sec contre l’excès d’eau.
a-weighing-of-the-contents-it-makes-everything-about-this-bin-far-surer =
    Une pesée du contenu ; elle rend tout ce qui touche à ce bac bien plus sûr.
such-as-12-4-kg-or-800-g = Comme 12.4 kg ou 800 g.
weight-of-the-empty-box = Poids de la caisse vide.
what-the-scale-may-be-off-such-as-50-g = L’erreur possible de la balance, comme 50 g.
a-test-of-moisture-by-the-oven-by-another-instrument-or-by-the-squeeze-of-a-handful =
    Un essai d’humidité : à l’étuve, par un autre instrument, ou en pressant une poignée.
such-as-70-or-0-7 = Comme 70 % ou 0.7.
a-handful-before-the-oven = Une poignée avant l’étuve.
the-same-after-24-h-at-105-c = La même après 24 h à 105 °C.
what-a-squeezed-handful-does-counts-as-rough = Ce que fait une poignée pressée ; compte comme approximatif.
the-bin-was-stirred-its-crust-is-broken = Le bac a été remué : sa croûte est rompue.
the-bin-was-covered-or-opened = Le bac a été couvert, ou ouvert.
what-lies-over-it-now = Ce qui le couvre maintenant.
the-fan-over-the-bin-was-switched-keep-fan-lead-and-plug-dry-and-off-the-wet-floor =
    Le ventilateur au-dessus du bac a été mis en marche ou arrêté. Garder ventilateur, câble et fiche au sec et loin du sol mouillé.
what-it-was-switched-to = Sa nouvelle position.
larvae-were-put-in-they-take-the-place-of-those-that-the-bin-knew-of =
    Des larves ont été mises dedans ; elles remplacent celles que le bac connaissait.
how-many = Combien.
what-was-taken-out = Ce qui a été sorti.
from-now-on-the-bin-is-dried-on-purpose-for-sieving-it-does-not-alarm-as-too-dry-any-more =
    Désormais le bac est séché exprès, pour le tamisage : il n’alerte plus comme trop sec.
every-filled-bin-moisture-how-long-until-it-is-dry-how-many-litres-it-needs-most-urgent-first =
    Chaque bac rempli : humidité, temps avant qu’il soit sec, litres qu’il lui faut, le plus urgent d’abord.
one-bin-moisture-with-its-band-loss-hours-to-the-dry-limits-litres-to-add-heat-logbook =
    Un bac : humidité avec sa marge, perte, heures jusqu’aux limites sèches, litres à ajouter, chaleur, journal.
the-whole-logbook-corrected-entries-too = Tout le journal, aussi les entrées corrigées.
draw-it-into-an-svg-file = Le dessiner dans un fichier SVG.
number-of-the-entry-from-bin-show = Numéro de l’entrée, d’après `bin show`.
what-is-right-as-in-the-command-that-entered-it-1-5-l-2-kg-at-12-66-lid-on =
    Ce qui est juste, comme dans la commande qui l’a entré : 1.5 l, 2 kg at 12 %, 66 %, lid, on.
of-a-filling-its-size = D’un remplissage : sa taille.
the-number-of-larvae-that-is-right = Le nombre juste de larves.
the-age-of-the-larvae-that-is-right = L’âge juste des larves.
of-a-filling-how-deep-its-thermometer-sits = D’un remplissage : la profondeur de son thermomètre.
while-the-monitor-runs-it-sends-the-message-itself-over-the-very-way-that-alarms-take-ends-with-0-when-every-message-was-taken-with-5-when-one-was-not =
    Quand le moniteur tourne, il envoie le message lui-même, par le chemin même que prennent les alarmes. Finit par 0 si chaque message a été pris, par 5 sinon.
only-to-this-person-without-it-to-everybody = Seulement à cette personne. Sans cela : à tout le monde.
values-are-in-the-unit-of-the-sensor-c-rh-and-a-ratio-from-0-to-1-for-substrate-moisture-stored-readings-stay-as-they-came-a-calibration-is-applied-when-they-are-read-out =
    Les valeurs sont dans l’unité du capteur : °C, %HR, et un rapport de 0 à 1 pour l’humidité du substrat. Les mesures conservées restent telles quelles ; l’étalonnage s’applique à la lecture.
such-as-node-01-air-humidity-or-bin-1-substrate-temperature-without-it-list-all =
    Comme node-01/air_humidity, ou bin-1/substrate_temperature. Sans cela : tout lister.
what-the-sensor-said-once-for-each-point = Ce qu’a dit le capteur. Une fois par point.
what-was-true-by-a-better-instrument-once-for-each-point =
    La valeur vraie, par un meilleur instrument. Une fois par point.
instead-of-true-for-humidity-in-a-salt-jar-licl-mgcl2-k2co3-nacl-kcl-k2so4-once-for-each-point =
    Au lieu de --true, pour l’humidité dans un bocal à sel : LiCl, MgCl2, K2CO3, NaCl, KCl, K2SO4. Une fois par point.
temperature-of-the-salt-jar = Température du bocal à sel.
from-when-on-it-holds-now-yesterday-18-00-2-days-ago-2026-11-25 =
    À partir de quand il vaut : now, yesterday 18:00, 2 days ago, 2026-11-25.
what-you-want-to-remember-about-it = Ce que vous voulez en retenir.
take-it-although-the-sensor-is-so-far-off-that-it-seems-broken =
    Le prendre bien que le capteur s’écarte tant qu’il paraît cassé.
until-then-its-value-is-an-index-between-air-and-water-not-a-moisture-and-counts-for-nothing-without-raw-and-true-what-holds-now =
    Jusque-là sa valeur est un indice entre l’air et l’eau, pas une humidité, et ne compte pour rien. Sans --raw ni --true : ce qui vaut maintenant.
such-as-bin-3-or-node-10-substrate-moisture = Comme bin-3, ou node-10/substrate_moisture.
what-the-probe-said-once-for-each-point = Ce qu’a dit la sonde. Une fois par point.
by-the-oven-70-or-0-7-once-for-each-point = À l’étuve : 70 % ou 0.7. Une fois par point.
what-it-says-in-air = Ce qu’elle dit dans l’air.
what-it-says-in-water = Ce qu’elle dit dans l’eau.
when-it-was-done = Quand cela a été fait.
readings-are-checked-and-flagged-like-those-that-come-in-live-what-is-stored-already-stays-as-it-is-an-alarm-never-comes-from-an-imported-file-it-tells-of-the-past =
    Les mesures sont vérifiées et marquées comme celles qui arrivent en direct ; ce qui est déjà conservé reste tel quel. Une alarme ne vient jamais d’un fichier importé : il parle du passé.
the-file-that-the-logger-wrote = Le fichier qu’a écrit l’enregistreur.
the-board-that-the-readings-belong-to-as-in-the-settings =
    La carte à laquelle appartiennent les mesures, comme dans les réglages.
what-a-column-holds-once-for-each-column-also-heading-probe-quantity-and-unit-after-it-quantities-are-named-as-boards-name-them-such-as-air-humidity-without-it-found-out-from-the-headings =
    Ce que contient une colonne ; une fois par colonne. Aussi HEADING=sonde/grandeur, et :unité après. Les grandeurs ont le nom que les cartes leur donnent, comme air_humidity. Sans cela : déduit des en-têtes.
the-column-with-date-and-time = La colonne de la date et de l’heure.
time-zone-of-the-logger-africa-gaborone-or-02-00-without-it-that-of-the-farm =
    Fuseau horaire de l’enregistreur : Africa/Gaborone, ou +02:00. Sans cela : celui de l’élevage.
order-of-day-and-month-where-the-file-leaves-it-open = Ordre du jour et du mois, si le fichier le laisse ouvert.
the-decimal-sign-where-the-file-leaves-it-open = Le signe décimal, si le fichier le laisse ouvert.
the-sign-between-columns-or-tab = Le signe entre les colonnes : virgule, point-virgule, | ou tab.
how-letters-are-stored-utf-8-utf-8-sig-utf-16-latin-1-cp1252 =
    Codage des lettres : utf-8, utf-8-sig, utf-16, latin-1, cp1252.
read-the-file-and-report-but-store-nothing = Lire le fichier et rendre compte, mais ne rien conserver.
for-trying-out-alarms-and-messages-a-running-monitor-takes-them-for-real-and-warns-of-them-use-a-node-and-a-settings-file-made-for-trials-not-those-of-your-animals =
    Pour essayer alarmes et messages : un moniteur en marche les prend pour vrais et en avertit. Utiliser une carte et un fichier de réglages faits pour les essais, pas ceux de vos animaux.
how-many-times-as-fast-as-it-was = Combien de fois plus vite qu’en réalité.
a-file-that-is-there-already-is-never-overwritten = Un fichier déjà là n’est jamais écrasé.
where-to-write-is-the-terminal-or-the-next-program = Où écrire ; - est le terminal ou le programme suivant.
readings-from-then-on-2026-11-01-yesterday-18-00-7-days-ago =
    Mesures à partir de là : 2026-11-01, yesterday 18:00, 7 days ago.
readings-before-then-without-it-until-now = Mesures avant cela. Sans cela : jusqu’à maintenant.
a-board-a-place-a-quantity-or-node-quantity-can-be-given-several-times =
    Une carte, un lieu, une grandeur ou carte/grandeur ; peut être donné plusieurs fois.
one-row-an-hour-count-lowest-mean-highest = Une ligne par heure : nombre, minimum, moyenne, maximum.
ends-with-0-when-the-program-can-run-with-these-settings-with-2-when-it-cannot-with-3-when-the-database-or-its-disk-keeps-it-from-that-with-4-when-the-way-to-the-broker-does =
    Finit par 0 si le programme peut tourner avec ces réglages, par 2 sinon, par 3 si la base ou son disque l’en empêche, par 4 si c’est le chemin vers le courtier.
try-the-broker-too-connect-log-in-subscribe-and-hear-oneself =
    Essayer aussi le courtier : se connecter, s’identifier, s’abonner, et s’entendre soi-même.
mark-a-folder-or-a-place-of-the-settings-as-one-that-takes-copies-once-while-it-is-reached =
    Marquer un dossier ou un endroit des réglages comme recevant les copies, une fois, pendant qu’on l’atteint.
say-which-copies-lie-where-write-nothing = Dire quelles copies sont où ; ne rien écrire.
a-copy-holds-database-settings-photos-certificates-and-the-broker-s-rules-keys-and-passwords-are-in-it-only-sealed-with-a-passphrase-backup-passphrase-file-in-the-settings-a-place-is-prepared-once-so-that-nothing-is-copied-to-where-a-stick-is-missing-a-file-sqlite-gets-the-database-alone-with-settings-and-photos-beside-it-and-is-never-overwritten =
    Une copie contient base, réglages, photos, certificats et règles du courtier. Clés et mots de passe n’y sont que scellés par une phrase secrète (backup_passphrase_file dans les réglages). Un endroit est préparé une fois, pour que rien ne soit copié là où une clé USB manque. Un FILE.sqlite reçoit la base seule, avec réglages et photos à côté, et n’est jamais écrasé.
the-name-of-a-place-in-the-settings-a-prepared-folder-or-a-file-sqlite-without-it-every-place-of-the-settings =
    Le nom d’un endroit des réglages, un dossier préparé, ou un FILE.sqlite. Sans cela : chaque endroit des réglages.
a-board-and-its-place-once-for-each-else-one-in-each-place =
    Une carte et son lieu ; une fois pour chacune. Sinon une dans chaque lieu.
file-that-holds-the-password-of-that-user =
    Fichier qui contient le mot de passe de cet utilisateur.
how-many-rooms =
    Combien de salles.
user-at-that-broker =
    Utilisateur chez ce courtier.
a-board-is-back-in-its-place-its-readings-count-again =
    Une carte est de retour à sa place : ses mesures comptent de nouveau.
animals-are-in-a-place-it-is-guarded-whatever-was-said-before =
    Il y a des animaux dans un lieu : il est surveillé, quoi qu’on ait dit avant.
    Cartes : en mettre une de côté tant qu’elle est dans le bocal de sel ou sur l’établi.
every-place-guarded-or-not-who-said-so-when-and-how-to-undo-it =
    Chaque lieu : surveillé ou non, qui l’a dit, quand, et comment annuler.
how-long-15-min-to-24-h-then-it-counts-again =
    Combien de temps : de 15 min à 24 h. Ensuite elle compte de nouveau.
how-long-15-min-to-4-h-then-it-is-guarded-again =
    Combien de temps : de 15 min à 4 h. Ensuite il est de nouveau surveillé.
id-of-a-board-in-the-settings =
    Nom d’une carte dans les réglages.
id-or-title-of-a-place-in-the-settings =
    Nom ou titre d’un lieu dans les réglages.
no-animals-are-in-a-place-no-alarm-comes-from-it-until-somebody-says-that-animals-are-in-it =
    Il n’y a pas d’animaux dans un lieu : aucune alarme n’en vient jusqu’à ce que quelqu’un dise qu’il y en a.
places-which-are-guarded-which-are-empty-which-are-put-aside-for-cleaning-and-who-said-so =
    Lieux : lesquels sont surveillés, vides ou mis de côté pour le nettoyage, et qui l’a dit.
put-a-board-aside-its-readings-and-its-silence-drive-no-alarm-it-ends-by-itself =
    Mettre une carte de côté : ni ses mesures ni son silence ne donnent d’alarme. Cela finit tout seul.
put-a-whole-place-aside-while-you-clean-it-no-alarm-comes-from-it-it-ends-by-itself =
    Mettre un lieu entier de côté pendant le nettoyage : aucune alarme n’en vient. Cela finit tout seul.
the-place-that-they-leave-is-empty-no-alarm-comes-from-it-then =
    Le lieu qu’ils quittent est vide : aucune alarme n’en vient plus.
write-it-without-a-question-however-unlikely-it-is =
    Noter sans question, si peu vraisemblable que ce soit.
those-that-do-not-count-any-more-too = Aussi celles qui ne comptent plus.
list-the-entries-of-all-kinds-with-their-numbers-the-newest-last =
    Lister les entrées de toute sorte avec leurs numéros, la plus récente en dernier.
read-a-paper-notebook-in-one-line-an-entry-with-the-columns-when-cohort-or-bin-what-and-others =
    Reprendre un carnet papier : une ligne par entrée, avec les colonnes when, cohort ou bin, what et d’autres.
all-that-was-written-down-with-the-numbers-of-the-entries-take-an-entry-or-an-import-back =
    Tout ce qui est noté, avec les numéros des entrées ; reprendre une entrée ou un carnet lu.
number-of-an-entry-or-an-import-such-as-import-1 = Numéro d’une entrée, ou un carnet lu comme import-1.
take-an-entry-back-or-all-that-an-import-wrote-it-stays-in-the-logbook-and-counts-no-more =
    Reprendre une entrée, ou tout ce qu’un carnet lu a écrit. Cela reste dans le journal, et ne compte plus.
of-how-many-days = De combien de jours.
what-start-move-split-merge-thin-saw-count-flies-eggs-end-of-a-cohort-fill-water-feed-weigh-test-stir-cover-fan-larvae-take-finish-empty-of-a-bin-other-columns-by-place-cage-stage-origin-purpose-event-how-cover-taken-feed-into-other-substrate-note-animals-grams-percent-flies-sure-days-window-hours-age-days-through-percent-kg-moisture-size-depth-back-to-larvae-rough-on-nothing-is-written-unless-every-line-can-be-taken =
    What : start, move, split, merge, thin, saw, count, flies, eggs, end d’un lot ; fill, water, feed, weigh, test, stir, cover, fan, larvae, take, finish, empty d’un bac. Autres colonnes : by, place, cage, stage, origin, purpose, event, how, cover, taken, feed, into, other, substrate, note, animals, grams, percent, flies, sure_days, window_hours, age_days, through_percent, kg, moisture, size, depth, back_to, larvae, rough, on. Rien n’est écrit tant que chaque ligne ne peut pas être prise.
hold-the-numbers-in-use-against-what-papers-state-with-reasons =
    Comparer les nombres employés à ce que disent les publications, avec les raisons.
a-name-or-address-under-which-phones-find-this-computer-once-for-each-first-the-best-without-it-they-are-found =
    Un nom ou une adresse sous lequel les téléphones trouvent cet ordinateur ; une fois pour chacun, le meilleur d’abord. Sans cela, ils sont trouvés.
it-says-what-it-will-write-and-asks-first-the-old-settings-are-kept-beside-at-the-end-it-draws-a-code-that-opens-the-page-on-a-phone =
    Elle dit ce qu’elle écrira et demande d’abord ; les anciens réglages sont gardés à côté. À la fin, elle dessine un code qui ouvre la page sur un téléphone.
let-phones-reach-the-page-plain-encrypted-by-the-farm-s-own-ca-or-behind-another-web-server =
    Rendre la page accessible aux téléphones : en clair, chiffrée par l’autorité (CA) propre à la ferme, ou derrière un autre serveur web.
plain-in-the-own-network-not-encrypted-https-besides-encrypted-by-the-farm-s-own-ca-so-that-phones-can-install-the-page-proxy-behind-another-web-server-or-a-tunnel-without-it-you-are-asked =
    plain : dans le réseau de la ferme, non chiffré. https : en plus, chiffré par l’autorité (CA) propre à la ferme, pour que les téléphones puissent installer la page. proxy : derrière un autre serveur web ou un tunnel. Sans cela, la question est posée.
port-of-the-encrypted-page =
    Port de la page chiffrée.
port-of-the-plain-page =
    Port de la page en clair.
the-page-for-the-phone-how-phones-reach-it =
    La page pour le téléphone : comment les téléphones l’atteignent.
with-proxy-address-under-which-phones-reach-the-web-server-in-front =
    Avec proxy : adresse à laquelle les téléphones atteignent le serveur web placé devant.
a-place-a-cohort-a-board-or-farm-for-the-whole-farm =
    Un lieu, un lot, une carte ; ou farm pour tout l’élevage.
a-value-that-is-right-such-as-grams-40-repeat-it =
    Une valeur juste, par exemple grams=40. À répéter.
correct-an-entry-of-any-kind-or-withdraw-it-what-was-first-written-stays-in-the-logbook =
    Corriger une entrée de toute sorte, ou la retirer. Ce qui fut écrit d’abord reste dans le journal.
dead-flies-were-swept-out-of-a-cage-counted-or-weighed =
    Des mouches mortes ont été balayées d’une cage, comptées ou pesées.
eggs-were-collected-from-a-cage-weighed-and-sold-or-set-to-hatch-in-a-tray-as-a-cohort-of-eggs =
    Des œufs ont été récoltés d’une cage : pesés, et vendus ou mis à éclore dans un bac, comme lot d’œufs.
eggs-were-seen-to-have-hatched-when-and-how-many-of-them-a-later-count-of-them-counts-instead =
    On a vu que des œufs ont éclos : quand, et combien. Un comptage plus tard compte à la place.
how-many-clutches =
    Combien de pontes.
id-or-title-of-a-love-cage =
    Identifiant ou titre d’une cage de ponte.
larvae-prepupae-from-the-ramp-or-residue-were-taken-out =
    Des larves, des prénymphes de la rampe ou du résidu ont été retirés.
mean-mass-of-one-larva-of-a-counted-sample-such-as-180-mg =
    Masse moyenne d’une larve d’un échantillon compté, par exemple 180 mg.
number-of-the-entry-from-logbook-list =
    Numéro de l’entrée, d’après `logbook list`.
of-the-flies-how-many-were-females =
    Des mouches : combien étaient des femelles.
of-the-residue-such-as-70-or-0-7 =
    Du résidu, par exemple 70 % ou 0.7.
of-which-cohort-they-are-else-that-of-the-day-named-by-tray =
    De quel lot ils sont ; sinon celui du jour, nommé d’après le bac.
on-how-many-strips =
    Sur combien de bandes.
share-such-as-80-or-young-larvae-such-as-3-2-g =
    Part, par exemple 80 % ; ou jeunes larves, par exemple 3.2 g.
such-as-12-4-g-a-bare-number-is-grams =
    Par exemple 12.4 g ; un simple nombre est en grammes.
such-as-4-2-kg-or-800-g-of-prepupae-a-number-too =
    Par exemple 4.2 kg ou 800 g ; pour des prénymphes aussi un nombre.
the-tray-in-which-they-are-set-to-hatch =
    Le bac dans lequel ils sont mis à éclore.
the-tray-or-the-cohort-that-hatched-in-it =
    Le bac, ou le lot qui y a éclos.
their-number-or-a-weight-such-as-12-g =
    Leur nombre, ou un poids, par exemple 12 g.
they-were-sold =
    Ils ont été vendus.
weight-of-what-was-left-such-as-6-5-kg =
    Poids de ce qui restait, par exemple 6.5 kg.
what-becomes-of-the-larvae-feed-sold-kept-for-breeding =
    Ce que deviennent les larves : aliment, vendues, gardées pour la reproduction.
what-it-was-such-as-brewery-grain =
    Ce que c’était, par exemple 'drêche'.
write-down-anything-about-a-place-a-cohort-a-board-or-the-whole-farm-nothing-is-computed-from-it =
    Noter quoi que ce soit d’un lieu, d’un lot, d’une carte ou de tout l’élevage ; rien n’en est calculé.
a-file-html-to-print-or-a-file-csv-for-a-spreadsheet =
    Un fichier .html à imprimer, ou un fichier .csv pour un tableur.
any-day-of-the-week-without-it-this-week =
    Un jour quelconque de la semaine. Sans cela : cette semaine.
of-a-cage-collect-and-dead-with-tray-use-strips-and-clutches-of-a-harvest-use-mean-mg-residue-kg-and-residue-moisture-of-a-hatch-percent-and-young-grams-of-flies-female-percent-a-sheet-of-logbook-sheet-has-the-columns-when-where-what-amount-use-to-tray-note-and-by-lines-that-were-left-empty-are-passed-over =
    D’une cage : collect et dead, avec tray, use, strips et clutches ; d’une récolte use, mean_mg, residue_kg et residue_moisture ; d’une éclosion percent et young_grams ; de mouches female_percent. Une feuille de `logbook sheet` a les colonnes quand, où, quoi, quantité, usage, vers le bac, note et par ; les lignes laissées vides sont passées.
write-the-paper-sheet-of-a-week-with-the-farm-s-own-places-typed-in-cohort-import-reads-it =
    Écrire la feuille d’une semaine avec les lieux de l’élevage ; une fois tapée, `cohort import` la lit.
say-what-a-cohort-is-for-where-that-was-not-said-at-its-start-or-has-changed =
    Dire à quoi sert une cohorte, si cela n’a pas été dit au départ ou a changé.
what-its-animals-are-for-breeding-or-feed =
    À quoi servent ses animaux : breeding (élevage) ou feed (aliment).
it-was-spread-thinner-too-so-that-it-loses-its-heat =
    Le contenu a aussi été étalé plus mince, pour perdre sa chaleur.
all-that-are-over-by-themselves-and-nobody-has-acknowledged-yet =
    Toutes celles qui sont finies d’elles-mêmes et que personne n’a encore vues.
the-day-so-far-instead-from-the-end-of-the-last-night-on =
    À la place, la journée en cours, depuis la fin de la dernière nuit.
delete-the-photo-of-this-entry-once-for-each =
    Supprimer la photo de cette entrée ; une fois pour chacune.
delete-the-photos-of-entries-before-then-2026-05-01-365-days-ago-the-entries-stay =
    Supprimer les photos des entrées d’avant : 2026-05-01, 365 days ago. Les entrées restent.
delete-them-without-it-they-are-only-counted =
    Les supprimer ; sans cela elles sont seulement comptées.
how-much-room-the-photos-of-entries-take-old-ones-can-be-deleted =
    La place que prennent les photos des entrées ; les anciennes peuvent être supprimées.
none-is-deleted-by-itself-that-an-entry-had-one-and-who-deleted-it-when-stays-written-copies-that-were-made-before-keep-theirs =
    Aucune n’est supprimée d’elle-même. Qu’une entrée en avait une, et qui l’a supprimée quand, reste écrit. Les copies faites avant gardent les leurs.
add-up-eggs-larvae-and-feed-of-this-week-and-month-and-say-what-is-to-come-and-can-be-promised =
    Additionner œufs, larves et aliment de cette semaine et de ce mois, et dire ce qui vient et ce qui peut être promis.
columns-of-the-csv-carry-their-units-eggs-in-g-all-else-in-kg-wet-the-climate-of-a-day-is-the-lowest-mean-and-highest-hour-of-the-place-else-of-its-room-what-nobody-wrote-down-is-empty-not-0 =
    Les colonnes du CSV portent leurs unités : œufs en g, tout le reste en kg, frais ; le climat d’un jour est l’heure la plus basse, la moyenne et l’heure la plus haute du lieu, sinon de sa salle. Ce que personne n’a noté est vide, pas 0.
how-many-prepupae-to-keep-for-so-many-eggs-else-as-eggs-g-a-week-in-the-settings-says =
    Combien de prénymphes garder pour tant d’œufs ; sinon selon eggs_g_a_week dans les réglages.
one-cage-bin-or-cohort-left-out-the-whole-farm =
    Une cage, un bac ou un lot ; sans cela, toute la ferme.
what-can-be-promised-to-a-buyer-for-that-day =
    Ce qui peut être promis à un acheteur pour ce jour.
write-a-row-for-each-day-and-place-amounts-climate-entries =
    Écrire une ligne par jour et par lieu : quantités, climat, entrées.
many-sites = Plusieurs sites
show-many-sites-in-one-list-worst-first-silent-ones-alarms-dry-bins-eggs-and-larvae-to-be-had =
    Montrer plusieurs sites en une liste, le pire d’abord : sites muets, alarmes, bacs secs, œufs et larves à venir.
it-reads-their-common-archive-alone-ends-with-1-when-a-site-needs-somebody-or-is-silent =
    Seule leur archive commune est lue. Finit par 1 quand un site a besoin de quelqu’un ou se tait.
serve-the-page-of-many-sites-and-send-a-message-when-one-of-them-falls-silent =
    Servir la page de plusieurs sites, et envoyer un message quand l’un d’eux se tait.
it-runs-until-it-is-stopped-nothing-in-a-site-depends-on-it =
    Cela tourne jusqu’à l’arrêt. Rien dans un site n’en dépend.
write-a-settings-file-for-many-sites-with-every-key-explained =
    Écrire un fichier de réglages pour plusieurs sites, chaque clé expliquée.
one-site-whole = Un site, en entier.
only-what-this-person-of-the-settings-may-see = Seulement ce que cette personne des réglages peut voir.
the-settings-of-many-sites-sites-toml = Les réglages de plusieurs sites, sites.toml.
where-to-write-it = Où l’écrire.
