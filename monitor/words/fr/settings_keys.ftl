# Le sens de chaque table et de chaque clé de farm.toml. Le nom est la phrase anglaise.

short-name-of-the-farm-part-of-every-mqtt-topic = nom court de l’élevage, partie de chaque topic MQTT
name-of-the-farm-as-it-stands-in-messages-and-in-the-night-report =
    nom de l’élevage tel qu’il figure dans les messages et le rapport de nuit
time-zone-of-the-farm-as-region-city-for-the-night-report-and-quiet-hours =
    fuseau horaire de l’élevage sous forme région/ville, pour le rapport de nuit et les heures calmes
height-above-sea-level-in-m-thinner-air-changes-how-fast-things-dry =
    altitude en m ; un air plus rare change la vitesse de séchage
which-insect-lives-here-decides-the-setpoints-that-alarms-start-from =
    l’insecte qui vit ici ; décide des seuils dont partent les alarmes
grams-of-eggs-wanted-in-a-week-to-sell-and-to-hatch-says-how-many-prepupae-to-keep-and-by-when =
    grammes d’œufs voulus par semaine, à vendre et à faire éclore ; dit combien de prénymphes garder, et jusqu’à quand
language-of-messages-the-night-report-and-the-command-line-the-page-follows-each-phone =
    langue des messages, du rapport de nuit et de la ligne de commande ; la page suit chaque téléphone
the-database-file-a-relative-path-starts-at-the-folder-of-this-file =
    le fichier de la base ; un chemin relatif part du dossier de ce fichier
how-many-days-every-single-reading-is-kept-hourly-summaries-are-kept-for-ever =
    nombre de jours pendant lesquels chaque mesure est gardée ; les résumés horaires le sont toujours
folder-for-a-copy-each-day-prepared-once-with-backup-prepare-an-alarm-comes-when-copies-fail =
    dossier d’une copie par jour, préparé une fois avec `backup --prepare` ; une alarme vient quand les copies échouent
true-this-program-runs-a-small-broker-of-its-own-false-a-broker-such-as-mosquitto-runs-already =
    true : ce programme fait tourner son propre petit broker ; false : un broker comme mosquitto tourne déjà
computer-on-which-the-broker-runs-unless-embedded = ordinateur sur lequel tourne le broker, sauf embedded
port-of-the-broker-with-tls-it-is-usually-8883 = port du broker ; avec TLS c’est d’ordinaire 8883
only-if-embedded-address-on-which-it-listens-0-0-0-0-is-every-network-of-this-computer =
    seulement si embedded : adresse sur laquelle il écoute ; 0.0.0.0 est tout réseau de cet ordinateur
version-of-mqtt-auto-tries-5-first = version de MQTT ; auto essaie d’abord 5
name-under-which-the-broker-keeps-messages-for-this-program-while-it-is-away-leave-it-alone =
    nom sous lequel le broker garde les messages pour ce programme en son absence ; ne pas y toucher
first-part-of-every-topic-topic-root-site-id-node-readings =
    première partie de chaque topic : {"{"}topic_root{"}"}/{"{"}site id{"}"}/{"{"}node{"}"}/readings
user-name-at-the-broker-if-it-asks-for-one = nom d’utilisateur auprès du broker, s’il en demande un
password-at-the-broker-kept-outside-this-file = mot de passe auprès du broker, gardé hors de ce fichier
true-encrypted-connection-to-the-broker = true : connexion chiffrée au broker
only-with-tls-certificate-of-the-authority-that-signed-the-broker-s-certificate =
    seulement avec tls : certificat de l’autorité qui a signé celui du broker
folder-of-what-boards-need-the-farm-s-own-ca-the-broker-s-certificate-the-boards-cards =
    dossier de ce qu’il faut aux cartes : l’autorité de la ferme, le certificat du broker, les fiches des cartes
names-and-addresses-under-which-boards-find-the-broker-first-the-best-else-those-of-this-computer =
    noms et adresses où les cartes trouvent le broker, le meilleur d’abord ; sinon ceux de cet ordinateur
port-at-which-boards-find-the-broker-encrypted =
    port où les cartes trouvent le broker, chiffré
folder-from-which-mosquitto-reads-users-and-rules-written-by-broker-setup-else-others-keep-them =
    dossier où mosquitto lit utilisateurs et règles, écrit par `broker setup` ; sinon d’autres les tiennent
only-with-tls-this-program-s-own-certificate-if-the-broker-asks-for-one =
    seulement avec tls : certificat de ce programme, si le broker en demande un
only-with-tls-the-private-key-of-client-certificate = seulement avec tls : la clé privée de client_certificate
days-for-which-the-broker-keeps-messages-while-this-program-is-away =
    jours pendant lesquels le broker garde les messages en l’absence de ce programme
seconds-after-which-a-silent-connection-is-tested = secondes après lesquelles une connexion muette est testée
its-mqtt-topic-node-stands-for-one-level-and-becomes-the-name-of-the-node =
    son topic MQTT ; {"{"}node{"}"} tient lieu d’un niveau et devient le nom de la carte
name-of-the-node-if-the-topic-has-no-node = nom de la carte, si le topic n’a pas de {"{"}node{"}"}
name-of-the-field-if-the-payload-is-a-json-object-left-out-for-a-bare-number =
    nom du champ, si le message est un objet JSON ; omis pour un simple nombre
what-the-number-is-such-as-air-temperature-or-air-humidity =
    ce qu’est le nombre, comme air_temperature ou air_humidity
name-of-the-probe-if-the-board-has-several-of-the-same-quantity =
    nom de la sonde, si la carte en a plusieurs de la même grandeur
unit-in-which-the-board-sends-if-not-the-usual-one-cel-k-degf-rh-lx-v-ppm =
    unité dans laquelle la carte envoie, si ce n’est pas l’habituelle : Cel, K, degF, %RH, /, lx, V, ppm
the-number-is-multiplied-by-this = le nombre est multiplié par ceci
and-then-this-is-added = et ceci est ensuite ajouté
boards-that-do-not-send-senml-see-intake-plain = cartes qui n’envoient pas de SenML ; voir [[intake.plain]]
a-reading-older-than-so-many-days-is-dated-by-its-arrival-and-its-node-s-clock-is-reported-as-wrong =
    une mesure plus vieille que tant de jours est datée de son arrivée, et l’horloge de sa carte est signalée fausse
likewise-a-reading-that-claims-to-come-from-so-many-minutes-in-the-future =
    de même une mesure qui prétend venir de tant de minutes dans l’avenir
short-name-also-written-on-the-box-itself-never-reuse-one-for-another-place =
    nom court, écrit aussi sur la caisse même ; ne jamais le reprendre pour un autre lieu
what-it-is-decides-what-it-is-guarded-for = ce que c’est ; décide contre quoi il est surveillé
name-in-messages-without-one-the-id-is-used = nom dans les messages ; sans lui, l’id sert
id-of-the-room-in-which-it-stands-if-it-stands-in-one = id de la salle où il se trouve, s’il est dans une salle
stage-of-the-animals-in-it-if-you-want-setpoints-for-that-stage =
    stade des animaux qui s’y trouvent, si vous voulez les seuils de ce stade
true-no-animals-in-it-so-no-climate-alarms = true : pas d’animaux dedans, donc pas d’alarmes de climat
true-animals-are-about-to-be-taken-out-alarms-about-drying-are-held-back =
    true : les animaux vont être sortis ; les alarmes de dessèchement sont retenues
minutes-that-you-need-to-be-there-and-mend-something-a-bin-is-warned-of-that-much-earlier =
    minutes qu’il vous faut pour être là et agir ; on avertit d’un bac d’autant plus tôt
by-how-many-k-its-coldest-wall-or-lid-is-below-its-air-for-the-warning-of-condensation =
    de combien de K sa paroi ou son couvercle le plus froid est sous son air, pour l’alerte de condensation
of-a-love-cage-living-flies-below-which-supply-warns =
    d’une cage de ponte : mouches vivantes au-dessous desquelles `supply` avertit
name-of-the-board-as-it-stands-in-its-topic = nom de la carte, tel qu’il figure dans son topic
id-of-the-place-in-which-its-sensors-are-left-out-stored-but-guards-nothing-yet =
    id du lieu où sont ses capteurs ; omis : conservée, mais ne surveille encore rien
single-probes-that-hang-in-another-place-than-the-board-probe-name-place-id =
    sondes qui pendent dans un autre lieu que la carte : {"{"} nom de sonde = id du lieu {"}"}
what-it-measures-as-quantity-or-probe-quantity-lets-check-say-beforehand-what-is-missing =
    ce qu’elle mesure, sous forme grandeur ou sonde/grandeur ; permet à `check` de dire d’avance ce qui manque
seconds-between-two-measurements-of-the-board-each-sent-at-once-unless-send-every-says-otherwise =
    secondes entre deux mesures de la carte, chacune envoyée aussitôt sauf si send_every dit autrement
measurements-that-are-sent-in-one-go-more-of-them-save-a-battery-and-alarms-come-that-much-later =
    mesures envoyées en une fois ; plus il y en a, plus la pile dure, et plus les alarmes viennent tard
names-for-its-one-wire-probes-by-the-serial-number-in-the-report-28ff641dc1160364-p1 =
    noms de ses sondes à un fil d’après le numéro de série du compte rendu : {"{"} 28ff641dc1160364 = "p1" {"}"}
false-the-buzzer-on-the-board-stays-quiet = false : l’avertisseur de la carte se tait
seconds-of-silence-after-which-it-counts-as-silent-left-out-worked-out-from-interval-s =
    secondes de silence après lesquelles elle passe pour muette ; omis : déduit de interval_s
battery-voltage-in-v-below-which-you-are-told-to-charge-it-left-out-for-a-board-on-the-mains =
    tension de batterie en V sous laquelle on vous dit de la charger ; omis pour une carte sur secteur
true-taken-out-on-purpose-its-silence-is-no-alarm = true : retirée exprès, son silence n’est pas une alarme
name-of-the-number-as-in-the-species-file-such-as-thermal-constant-dd-or-female-life-days =
    nom du nombre comme dans le fichier d’espèce, tel que thermal_constant_dd ou female_life_days
its-value-in-the-unit-at-the-end-of-its-name = sa valeur, dans l’unité à la fin de son nom
stage-that-it-belongs-to-left-out-for-a-number-that-belongs-to-none =
    stade auquel il appartient ; omis pour un nombre qui n’appartient à aucun
feed-on-which-it-holds-if-the-species-file-knows-several-left-out-on-a-feed-that-is-not-named =
    nourriture pour laquelle il vaut, si le fichier d’espèce en connaît plusieurs ; omis : une nourriture non nommée
where-it-is-from-so-that-you-know-it-in-a-year = d’où il vient, pour que vous le sachiez dans un an
id-of-the-place-give-this-or-place-kind = id du lieu ; donner ceci ou place_kind
kind-of-place-give-this-or-place = genre de lieu ; donner ceci ou place
what-is-watched-a-measured-quantity-or-a-computed-one-such-as-minutes-to-overheating =
    ce qui est suivi : une grandeur mesurée, ou calculée comme minutes_to_overheating
which-side-of-the-setpoint-is-the-dangerous-one = quel côté du seuil est le dangereux
how-urgent-high-comes-at-night-too = l’urgence ; high vient aussi la nuit
true-do-not-watch-this-at-all = true : ne pas suivre cela du tout
the-alarm-comes-beyond-this-value-in-the-unit-of-the-quantity-left-out-as-in-the-species-file =
    l’alarme vient au-delà de cette valeur, dans l’unité de la grandeur ; omis : comme dans le fichier d’espèce
how-far-the-value-must-come-back-before-the-alarm-goes-in-the-unit-of-the-quantity =
    de combien la valeur doit revenir avant que l’alarme cesse, dans l’unité de la grandeur
minutes-for-which-the-value-must-be-wrong-before-the-alarm-comes =
    minutes pendant lesquelles la valeur doit être mauvaise avant que l’alarme vienne
minutes-for-which-the-value-must-be-right-before-the-alarm-goes =
    minutes pendant lesquelles la valeur doit être bonne avant que l’alarme cesse
hours-in-which-an-alarm-that-somebody-has-seen-is-told-again-only-if-it-grew-worse-0-always =
    heures pendant lesquelles une alarme que quelqu’un a vue n’est redite que si elle a empiré ; 0 : toujours
how-much-worse-that-is-in-the-unit-of-the-quantity =
    combien de plus il faut pour cela, dans l’unité de la grandeur
what-happens-if-nobody-acts-for-the-message = ce qui arrive si personne n’agit, pour le message
what-the-person-should-do-for-the-message = ce que la personne doit faire, pour le message
what-to-beware-of-while-doing-it-for-the-message = à quoi prendre garde en le faisant, pour le message
when-quiet-begins-local-time = quand le calme commence, heure locale
when-quiet-ends-local-time = quand le calme finit, heure locale
short-name-of-the-person = nom court de la personne
where-messages-go-an-apprise-url-like-mailtos-kept-outside-this-file-webpush-is-the-page =
    où vont les messages : une URL apprise comme mailtos://..., gardée hors de ce fichier ; webpush:// est la page
language-of-this-person-s-messages-left-out-that-of-the-farm =
    langue des messages de cette personne ; omis : celle de l’élevage
s-1-is-told-first-2-is-told-when-nobody-acknowledged-in-time-and-so-on =
    1 est prévenu d’abord ; 2 l’est quand personne n’a dit « vue » à temps, et ainsi de suite
which-alarms-this-person-gets = les alarmes que reçoit cette personne
hours-in-which-only-high-alarms-go-to-this-person-start-21-00-end-05-30-local-time =
    heures où seules les alarmes hautes vont à cette personne : {"{"} start = "21:00", end = "05:30" {"}"}, heure locale
true-gets-the-night-report-in-the-morning = true : reçoit le rapport de nuit le matin
messages-in-one-hour-the-rest-is-folded-into-one-but-a-new-high-alarm-always-goes-out =
    messages en une heure ; le reste est réuni en un seul, mais une nouvelle alarme haute part toujours
minutes-without-acknowledgement-after-which-the-next-person-is-told =
    minutes sans que personne dise « vue », après lesquelles la personne suivante est prévenue
minutes-after-which-an-alarm-that-is-still-there-is-told-again =
    minutes après lesquelles une alarme toujours là est rappelée
web-address-that-is-called-while-all-is-well-so-that-an-outside-service-can-notice-silence =
    adresse web appelée tant que tout va bien, pour qu’un service extérieur remarque le silence
minutes-between-two-such-calls = minutes entre deux de ces appels
when-it-is-sent-local-time = quand il est envoyé, heure locale
when-the-night-begins-that-it-reports-on-local-time = quand commence la nuit dont il parle, heure locale
false-no-report-is-sent-the-command-night-still-shows-it =
    false : aucun rapport n’est envoyé ; la commande `night` le montre toujours
true-serve-the-page = true : servir la page
address-on-which-it-listens-127-0-0-1-is-this-computer-alone-0-0-0-0-every-network-of-it =
    adresse sur laquelle elle écoute ; 127.0.0.1 est cet ordinateur seul, 0.0.0.0 tous ses réseaux
port-on-which-it-listens = port sur lequel elle écoute
password-of-the-page-kept-outside-this-file-needed-before-it-may-listen-wider-than-127-0-0-1 =
    mot de passe de la page, gardé hors de ce fichier ; nécessaire avant d’écouter plus large que 127.0.0.1
web-address-under-which-your-phone-reaches-the-page-puts-a-link-to-acknowledge-into-messages =
    adresse web par laquelle votre téléphone joint la page ; met dans les messages un lien pour dire « vue »
web-address-of-the-server = adresse web du serveur
organisation-at-the-server-if-it-has-them = organisation auprès du serveur, s’il en a
bucket-at-the-server = bucket auprès du serveur
access-token-kept-outside-this-file = jeton d’accès, gardé hors de ce fichier
web-address-at-which-the-archive-is-read-back-if-that-is-another-one =
    adresse web où l’archive est relue, si c’en est une autre
access-token-for-reading-if-that-is-another-one-kept-outside-this-file =
    jeton d’accès pour lire, si c’en est un autre ; gardé hors de ce fichier
what-the-server-is-for-reading-without-it-the-server-is-asked =
    ce qu’est le serveur, pour la lecture ; sans cela on le lui demande
readings-in-one-call = mesures par appel
hours-by-which-the-copy-may-lag-before-you-are-told =
    heures de retard permises à la copie avant que l’on vous prévienne
the-farm-one-place-on-the-map-one-time-zone = L’élevage : un lieu sur la carte, un fuseau horaire.
where-readings-are-kept-and-for-how-long = Où les mesures sont gardées, et combien de temps.
the-mqtt-broker-the-post-office-that-the-nodes-send-to-and-that-this-program-reads-from =
    Le broker MQTT : la poste où les cartes envoient et où ce programme lit.
what-is-taken-in-from-the-nodes = Ce qui est reçu des cartes.
a-room-cage-tray-bin-or-box-that-is-guarded = Une salle, cage, un plateau, bac ou une caisse que l’on surveille.
a-board-with-sensors = Une carte avec des capteurs.
change-add-or-remove-one-alarm-of-one-place-or-of-every-place-of-one-kind =
    Changer, ajouter ou retirer une alarme d’un lieu, ou de tous les lieux d’un genre.
a-number-of-your-farm-in-place-of-one-in-the-species-file-for-forecasts =
    Un nombre de votre élevage à la place d’un du fichier d’espèce, pour les prévisions.
a-person-or-a-shared-phone-to-whom-messages-go = Une personne (ou un téléphone partagé) à qui vont les messages.
when-somebody-else-is-told-when-you-are-reminded-and-who-notices-if-this-computer-dies =
    Quand quelqu’un d’autre est prévenu, quand on vous relance, et qui remarque si cet ordinateur tombe.
the-night-report = Le rapport de nuit.
the-page-for-the-phone = La page pour le téléphone.
readings-alarms-and-forecasts-on-a-server-of-yours-that-speaks-the-influxdb-v2-write-api =
    Mesures, alarmes et prévisions sur un serveur à vous qui parle l’API d’écriture InfluxDB v2.
a-board-that-already-sends-a-bare-number-or-one-flat-json-object-on-a-topic-of-its-own =
    Une carte qui envoie déjà un simple nombre ou un objet JSON plat sur son propre topic.
hours-in-which-only-high-messages-go-out-local-time-may-span-midnight =
    Heures où seuls les messages `high` partent, heure locale ; peuvent enjamber minuit.
addresses-of-a-web-server-in-front-of-the-page-whose-visitors-it-names-is-believed-only-from-these =
    adresses d’un serveur web placé devant la page ; les visiteurs qu’il nomme ne sont crus que venant d’elles
port-on-which-it-listens-besides-encrypted-with-a-certificate-of-the-farm-s-own-ca-page-setup =
    port sur lequel elle écoute en plus, chiffré, avec un certificat de l’autorité (CA) propre à la ferme (`page setup`)
names-and-addresses-under-which-phones-find-this-computer-for-its-certificate-none-found =
    noms et adresses sous lesquels les téléphones trouvent cet ordinateur, pour son certificat ; aucun : ils sont trouvés
earned-for-a-gram-of-eggs =
    reçu pour un gramme d’œufs
earned-for-a-kilogram-of-fresh-larvae-or-saved-where-they-take-the-place-of-bought-feed =
    reçu pour un kilogramme de larves fraîches, ou épargné là où elles remplacent un aliment acheté
how-the-money-is-called-beside-an-amount-such-as-p-or-eur =
    comment s’appelle l’argent à côté d’un montant, par exemple P ou EUR
paid-for-a-kilogram-of-feed-as-it-is-put-in-feed-that-costs-nothing-is-0 =
    payé pour un kilogramme d’aliment tel qu’on le met ; un aliment qui ne coûte rien vaut 0
paid-for-a-kilogram-of-feeds-with-another-price-bran-0-5-named-as-in-the-logbook =
    payé pour un kilogramme d’aliments d’un autre prix, nommés comme dans le journal : {"{"} bran = 0.5 {"}"}
what-the-farm-earns-and-pays-without-this-table-nothing-speaks-of-money =
    Ce que l’élevage gagne et paie ; sans cette table il n’est jamais question d’argent.
room-for-photos-of-entries-mb-in-a-folder-beside-the-database-when-full-no-more-are-taken =
    place pour les photos des entrées [Mo], dans un dossier à côté de la base ; une fois plein, plus aucune n’est prise

## [[copies]]

a-further-place-for-the-copy-of-each-day-such-as-a-second-stick-or-a-server =
    Un endroit de plus pour la copie de chaque jour, comme une deuxième clé ou un serveur.
short-name-of-the-place = nom court de l’endroit
a-folder-on-a-stick-a-disk-or-a-network-drive-give-this-or-url =
    un dossier sur une clé, un disque ou un lecteur réseau ; donner ceci ou url
an-address-sftp-user-host-folder-s3-bucket-folder-webdav-host-folder-give-this-or-folder =
    une adresse : sftp://user@host/dossier, s3://bucket/dossier, webdav://host/dossier ; donner ceci ou folder
only-with-url-user-name-there-or-the-id-of-the-key-for-s3 =
    seulement avec url : nom d’utilisateur là-bas, ou identifiant de la clé pour S3
only-with-url-password-there-or-the-secret-key-for-s3-kept-outside-this-file =
    seulement avec url : mot de passe là-bas, ou clé secrète pour S3, gardé hors de ce fichier
only-with-url-what-else-it-needs-as-fsspec-names-it-endpoint-url-https =
    seulement avec url : ce qu’il faut encore, comme fsspec le nomme : {"{"} endpoint_url = "https://..." {"}"}
passphrase-that-seals-keys-and-passwords-into-copies-which-else-hold-none-note-it-elsewhere-too =
    phrase secrète qui scelle clés et mots de passe dans les copies, qui sinon n’en ont pas ; la noter aussi ailleurs
